//! From a temperature to registers, and the alarm: "Measuring Temperature" and "Alarm Signaling" of the datasheets.

use crate::part::Part;

/// Temperature register at power-up: +85 degC. DS18B20 (7/19) Figure 9; DS18S20 Table 1.
pub(crate) const fn power_up(part: Part) -> [u8; 2] {
    match part {
        Part::Ds18s20 => [0xAA, 0x00],
        _ => [0x50, 0x05],
    }
}

/// Byte 6 at power-up and, with a configuration register, always: 0Ch (DS18B20-PAR, earlier edition, Figure 6; DS18S20: from memory).
pub(crate) const BYTE_SIX: u8 = 0x0C;
/// Byte 7, COUNT PER C: 10h. DS18B20 (7/19) Figure 9; DS18S20 Memory.
pub(crate) const BYTE_SEVEN: u8 = 0x10;

/// Low bits of the register that a configuration leaves undefined: 3 at 9 bits, 0 at 12. DS18B20 (7/19) Table 2.
pub(crate) const fn undefined_bits(configuration: u8) -> u8 {
    3 - (configuration >> 5 & 3)
}

/// The configuration register after a write: bits 6 and 5 are taken, bit 7 is 0, bit 4 is 1 (DS18B20 (7/19) Figure 10); the others are 1,
/// with a DS1825 the levels of its address pins (DS1825 p. 8 Figure 7, the layout from memory).
pub(crate) const fn configuration(part: Part, address_pins: u8, written: u8) -> u8 {
    let low = match part {
        Part::Ds1825 => address_pins & 0x0F,
        _ => 0x0F,
    };
    written & 0x60 | 0x10 | low
}

/// Temperature register and byte 6 after a conversion of `sixteenths`.
///
/// DS18S20, Measuring Temperature: T = TEMP_READ - 0.25 + (16 - COUNT_REMAIN) / 16 with the half-degree bit of TEMP_READ dropped; the
/// register is T to the nearest half degree, upwards from the middle.
pub(crate) const fn converted(part: Part, undefined_bits: u8, sixteenths: i16) -> ([u8; 2], u8) {
    match part {
        Part::Ds18s20 => {
            let quarter_up = sixteenths.wrapping_add(4);
            ((quarter_up >> 3).to_le_bytes(), 16 - (quarter_up & 15) as u8)
        }
        _ => ((sixteenths >> undefined_bits << undefined_bits).to_le_bytes(), BYTE_SIX),
    }
}

/// Whether a register raises the alarm: whole degrees, T <= TL or T >= TH; of a DS18S20 T <= TL or T > TH (23-page edition).
pub(crate) fn raises_alarm(part: Part, register: [u8; 2], high: u8, low: u8) -> bool {
    let register = i16::from_le_bytes(register);
    let (high, low) = (i16::from(high.cast_signed()), i16::from(low.cast_signed()));
    match part {
        Part::Ds18s20 => register >> 1 <= low || register >> 1 > high,
        _ => register >> 4 <= low || register >> 4 >= high,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn registers_are_those_of_the_published_tables() {
        // DS18B20 (7/19) Table 1.
        for (sixteenths, register) in [(2_000, 0x07D0_u16), (401, 0x0191), (8, 0x0008), (-8, 0xFFF8), (-880, 0xFC90)] {
            assert_eq!(converted(Part::Ds18b20, 0, sixteenths), (register.to_le_bytes(), 0x0C));
        }
        // DS18S20 Table 1; COUNT REMAIN 0Ch at a half degree and at a whole one, by the equation of the datasheet.
        for (sixteenths, register) in
            [(1_360, 0x00AA_u16), (400, 0x0032), (8, 0x0001), (-8, 0xFFFF), (-400, 0xFFCE), (-880, 0xFF92)]
        {
            assert_eq!(converted(Part::Ds18s20, 0, sixteenths).0, register.to_le_bytes());
        }
    }

    #[test]
    fn the_count_of_a_ds18s20_gives_back_every_sixteenth() {
        for sixteenths in -880..=2_000_i16 {
            let (register, remain) = converted(Part::Ds18s20, 0, sixteenths);
            let read = i16::from_le_bytes(register) >> 1;
            assert_eq!(read * 16 - 4 + 16 - i16::from(remain), sixteenths);
        }
    }

    #[test]
    fn undefined_bits_are_cleared() {
        for (configuration, mask) in [(0x1F, !7), (0x3F, !3), (0x5F, !1), (0x7F, !0_i16)] {
            let (register, _) = converted(Part::Ds18b20, undefined_bits(configuration), 0x0191 | 7);
            assert_eq!(i16::from_le_bytes(register), (0x0191 | 7) & mask);
        }
    }

    #[test]
    fn the_alarm_compares_whole_degrees() {
        // DS18B20 (7/19), Alarm Signaling: bits 11 to 4.
        let at = |sixteenths: i16| raises_alarm(Part::Ds18b20, sixteenths.to_le_bytes(), 30, 10);
        assert!(at(30 * 16) && !at(30 * 16 - 1) && at(10 * 16 + 15) && !at(11 * 16));
    }
}
