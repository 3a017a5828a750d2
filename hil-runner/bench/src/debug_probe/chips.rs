//! The families of chips that the firmware is for, and how each says who it is and that it is locked.

use probe_rs::{MemoryInterface, Session};

use super::error::{ChipError, chain};

/// A family of chips with one firmware image.
#[derive(Debug)]
pub struct ChipFamily {
    /// Its name, which begins every part number.
    pub name: &'static str,
    /// Where it says who it is.
    id_address: u64,
    /// The bits that count.
    id_mask: u32,
    /// What they may be.
    ids: &'static [u32],
    /// Where, and by which bit, it says that reading is not allowed.
    locked: Option<(u64, u32)>,
}

/// `STM32F103`: DBGMCU_IDCODE.DEV_ID and FLASH_OBR.RDPRT (RM0008, 31.6.1 and 3.3.8). `nRF52833`: FICR INFO.PART (nRF52833
/// Product Specification, 4.4.1.3). `RP2040`: SYSINFO CHIP_ID, part 0002h of manufacturer 927h (RP2040 Datasheet, 2.20). The
/// numbers are from memory, but for those of the STM32F103, which the emulated chip was written from.
static FAMILIES: [ChipFamily; 3] = [
    ChipFamily {
        name: "STM32F103",
        id_address: 0xE004_2000,
        id_mask: 0xFFF,
        ids: &[0x410, 0x412, 0x414, 0x430],
        locked: Some((0x4002_201C, 1 << 1)),
    },
    ChipFamily { name: "NRF52833", id_address: 0x1000_0100, id_mask: 0xFFFF_FFFF, ids: &[0x52833], locked: None },
    ChipFamily { name: "RP2040", id_address: 0x4000_0000, id_mask: 0x0FFF_FFFF, ids: &[0x0000_2927], locked: None },
];

/// The family of a chip, by its part number.
#[must_use]
pub fn family_of(chip: &str) -> Option<&'static ChipFamily> {
    let chip = chip.to_ascii_uppercase();
    FAMILIES.iter().find(|family| chip.starts_with(family.name))
}

impl ChipFamily {
    /// Makes sure that the chip is of this family and can be read.
    pub(super) fn check(&self, session: &mut Session, chip: &str) -> Result<(), ChipError> {
        let lost = |error: probe_rs::Error| ChipError::Lost(chain(&error));
        let mut core = session.core(0).map_err(lost)?;
        let id = core.read_word_32(self.id_address).map_err(lost)? & self.id_mask;
        if !self.ids.contains(&id) {
            return Err(ChipError::WrongChip { expected: chip.to_owned(), found: format!("device ID {id:X}h") });
        }
        if let Some((address, bit)) = self.locked
            && core.read_word_32(address).map_err(lost)? & bit != 0
        {
            return Err(ChipError::Locked { how: "its option bytes forbid reading the flash".into() });
        }
        Ok(())
    }
}
