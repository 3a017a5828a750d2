//! The reasons for doubt that are there, by the figures of the datasheets.

use slotwise::thermometer::{Doubt, Evidence, Family};

use slotwise_limits::registers::{Registers, Truth};

/// Every reason for doubt about a number, in the order of [`Doubt::ALL`].
#[must_use]
pub(super) fn due(registers: &Registers, truth: &Truth, evidence: Evidence) -> Vec<Doubt> {
    Doubt::ALL.into_iter().filter(|doubt| is_due(*doubt, registers, truth, evidence)).collect()
}

fn is_due(doubt: Doubt, registers: &Registers, truth: &Truth, evidence: Evidence) -> bool {
    let bytes = &registers.bytes;
    match doubt {
        Doubt::PowerOnValue => {
            registers.raw() == power_on(registers.part) && !(evidence == Evidence::Proven && is_marked(bytes))
        }
        Doubt::NoConversion => evidence == Evidence::None,
        Doubt::UndefinedBits => registers.raw() & registers.undefined_bits() != 0,
        // FFh and 10h (DS18B20 datasheet (7/19), Figure 9). Byte 7 of a DS18S20 is a counter; of others nothing is published.
        Doubt::ReservedBytes => match registers.part {
            Family::Ds18b20 | Family::Ds1822 => bytes[5] != 0xFF || bytes[7] != 0x10,
            Family::Ds18s20 => bytes[5] != 0xFF,
            Family::Ds1825 | Family::Ds28ea00 => false,
        },
        Doubt::OutOfRange => {
            let (coldest, warmest) = range_celsius(registers.part);
            truth.sixteenths < coldest * 16 || truth.sixteenths > warmest * 16
        }
        Doubt::SharedFamily => registers.part == Family::Ds1825,
        // A doubt of a later driver, for which the judge has no rule.
        _ => false,
    }
}

/// Whether the alarm limits are those that a proof puts there as a mark, which a reset would wipe out: out of reach of every temperature, or
/// met by every one. A driver that claims a proof must have the bytes to show for it.
const fn is_marked(bytes: &[u8; 9]) -> bool {
    let (high, low) = (bytes[2].cast_signed(), bytes[3].cast_signed());
    (high >= 126 && low <= -127) || (high <= -127 && low >= 126)
}

/// The register after power-up (memory maps of the datasheets).
const fn power_on(part: Family) -> u16 {
    match part {
        Family::Ds18s20 => 0x00AA,
        Family::Ds1822 | Family::Ds18b20 | Family::Ds1825 | Family::Ds28ea00 => 0x0550,
    }
}

/// The operating range (DC tables of the datasheets).
const fn range_celsius(part: Family) -> (i32, i32) {
    match part {
        Family::Ds28ea00 => (-40, 85),
        Family::Ds18s20 | Family::Ds1822 | Family::Ds18b20 | Family::Ds1825 => (-55, 125),
    }
}

/// Doubts as a list for people.
#[must_use]
pub(super) fn list(doubts: impl IntoIterator<Item = Doubt>) -> String {
    let words: Vec<String> = doubts.into_iter().map(|doubt| doubt.to_string()).collect();
    if words.is_empty() { "no doubt".into() } else { words.join("; ") }
}
