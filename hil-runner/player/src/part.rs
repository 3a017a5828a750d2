//! Which part a sensor is, and its ROM code.

use crate::crc::check;

/// A thermometer part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Part {
    /// Family 28h.
    Ds18b20,
    /// Family 10h: 9-bit register, COUNT REMAIN, no configuration register.
    Ds18s20,
    /// Family 22h.
    Ds1822,
    /// Family 3Bh: four address pins in the configuration register.
    Ds1825,
    /// Family 42h, its thermometer at standard speed.
    Ds28ea00,
}

impl Part {
    /// Every part.
    pub const ALL: [Self; 5] = [Self::Ds18b20, Self::Ds18s20, Self::Ds1822, Self::Ds1825, Self::Ds28ea00];

    /// The family code. DS18B20 (7/19) Figure 8; DS18S20 64-Bit Lasered ROM; DS1822-PAR p. 5; DS1825 p. 7; DS28EA00: from memory.
    #[must_use]
    pub const fn family(self) -> u8 {
        match self {
            Self::Ds18b20 => 0x28,
            Self::Ds18s20 => 0x10,
            Self::Ds1822 => 0x22,
            Self::Ds1825 => 0x3B,
            Self::Ds28ea00 => 0x42,
        }
    }

    /// The part of a family code; `None` for one that is not played.
    #[must_use]
    pub const fn of_family(family: u8) -> Option<Self> {
        Some(match family {
            0x28 => Self::Ds18b20,
            0x10 => Self::Ds18s20,
            0x22 => Self::Ds1822,
            0x3B => Self::Ds1825,
            0x42 => Self::Ds28ea00,
            _ => return None,
        })
    }

    /// What the part does on silicon and does not do here.
    #[must_use]
    pub const fn not_played(self) -> Option<&'static str> {
        match self {
            Self::Ds28ea00 => Some("overdrive, chain, PIO and Conditional Read ROM are not played"),
            Self::Ds1825 => Some("the thermocouple parts of this family are not played"),
            Self::Ds18b20 | Self::Ds18s20 | Self::Ds1822 => None,
        }
    }

    pub(crate) const fn has_configuration(self) -> bool {
        !matches!(self, Self::Ds18s20)
    }
}

/// A 64-bit ROM code in the order of the wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct RomCode(pub [u8; 8]);

impl RomCode {
    /// The code of a part with the low 48 bits of `serial`, its CRC computed. Any other eight bytes are a code as well: a wrong CRC or
    /// family is played as it is.
    #[must_use]
    pub fn new(part: Part, serial: u64) -> Self {
        let [a, b, c, d, e, f, ..] = serial.to_le_bytes();
        let family = part.family();
        Self([family, a, b, c, d, e, f, check(&[family, a, b, c, d, e, f])])
    }

    /// The bit at a place of the wire, from 0.
    pub(crate) const fn bit(self, place: u32) -> bool {
        u64::from_le_bytes(self.0) >> (place & 63) & 1 == 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_family_names_its_part_and_no_other() {
        for part in Part::ALL {
            assert_eq!(Part::of_family(part.family()), Some(part));
        }
        assert_eq!((0..=u8::MAX).filter_map(Part::of_family).count(), Part::ALL.len());
    }

    #[test]
    fn the_ds28ea00_says_that_overdrive_is_not_played() {
        assert!(Part::Ds28ea00.not_played().unwrap().contains("overdrive"));
    }
}
