//! The codes of commands and their names in the datasheets.
//!
//! DS18B20 datasheet (7/19), ROM Commands and Table 3; Chain: DS28EA00 datasheet. From memory: the codes of Conditional Read ROM,
//! of both PIO commands and of both overdrive commands.

pub(crate) const SEARCH_ROM: u8 = 0xF0;
pub(crate) const ALARM_SEARCH: u8 = 0xEC;
pub(crate) const READ_ROM: u8 = 0x33;
pub(crate) const MATCH_ROM: u8 = 0x55;
pub(crate) const SKIP_ROM: u8 = 0xCC;
pub(super) const CONDITIONAL_READ_ROM: u8 = 0x0F;
pub(crate) const OVERDRIVE_SKIP_ROM: u8 = 0x3C;
pub(crate) const OVERDRIVE_MATCH_ROM: u8 = 0x69;

pub(crate) const CONVERT_T: u8 = 0x44;
pub(crate) const WRITE_SCRATCHPAD: u8 = 0x4E;
/// Read Scratchpad.
pub const READ_SCRATCHPAD: u8 = 0xBE;
pub(crate) const COPY_SCRATCHPAD: u8 = 0x48;
pub(crate) const RECALL_E2: u8 = 0xB8;
pub(crate) const READ_POWER_SUPPLY: u8 = 0xB4;
pub(super) const CHAIN: u8 = 0x99;
pub(super) const PIO_READ: u8 = 0xF5;
pub(super) const PIO_WRITE: u8 = 0xA5;

/// The name of a ROM command.
#[must_use]
pub const fn rom_command_name(code: u8) -> Option<&'static str> {
    Some(match code {
        SEARCH_ROM => "Search ROM",
        ALARM_SEARCH => "Alarm Search",
        READ_ROM => "Read ROM",
        MATCH_ROM => "Match ROM",
        SKIP_ROM => "Skip ROM",
        CONDITIONAL_READ_ROM => "Conditional Read ROM",
        OVERDRIVE_SKIP_ROM => "Overdrive-Skip ROM",
        OVERDRIVE_MATCH_ROM => "Overdrive-Match ROM",
        _ => return None,
    })
}

/// The name of a function command.
#[must_use]
pub const fn function_name(code: u8) -> Option<&'static str> {
    Some(match code {
        CONVERT_T => "Convert T",
        WRITE_SCRATCHPAD => "Write Scratchpad",
        READ_SCRATCHPAD => "Read Scratchpad",
        COPY_SCRATCHPAD => "Copy Scratchpad",
        RECALL_E2 => "Recall E2",
        READ_POWER_SUPPLY => "Read Power Supply",
        CHAIN => "Chain",
        PIO_READ => "PIO Access Read",
        PIO_WRITE => "PIO Access Write",
        _ => return None,
    })
}
