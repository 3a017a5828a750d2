//! What follows each function command, slot by slot.

use super::command as code;

/// A stretch of slots that belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    /// So many bytes from the master.
    Written(u8),
    /// So many bytes from a sensor. The master may end it early with a reset.
    Answered(u8),
    /// Read slots until the master has enough of them: 0 while busy or on parasite power, 1 otherwise.
    Polled,
    /// Bytes from a sensor until the next reset.
    AnsweredOn,
}

/// The parts after a function command. `limits_only`: of a part that has no configuration register, whose Write Scratchpad takes two bytes
/// (DS18S20 datasheet, Memory).
///
/// DS18B20 datasheet (7/19), Table 3 and Figure 14; Chain: DS28EA00 datasheet; the two PIO commands from memory.
pub(super) const fn parts(function: u8, limits_only: bool) -> Option<&'static [Part]> {
    Some(match function {
        code::CONVERT_T | code::COPY_SCRATCHPAD | code::RECALL_E2 | code::READ_POWER_SUPPLY => &[Part::Polled],
        code::WRITE_SCRATCHPAD if limits_only => &[Part::Written(2)],
        code::WRITE_SCRATCHPAD => &[Part::Written(3)],
        code::READ_SCRATCHPAD => &[Part::Answered(9)],
        code::CHAIN => &[Part::Written(2), Part::Answered(1)],
        code::PIO_READ => &[Part::AnsweredOn],
        code::PIO_WRITE => &[Part::Written(2), Part::Answered(2)],
        _ => return None,
    })
}
