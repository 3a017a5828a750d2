//! The families of thermometers and what is common to each.

use super::Resolution;
use crate::bus::{FamilyCode, RomCode};

/// A family of thermometers that this driver decodes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Family {
    /// 10h, DS18S20: 0.5 degC steps, refined to 1/16 degC by its counters; no configuration register.
    Ds18s20,
    /// 22h, DS1822: a DS18B20 with wider error limits.
    Ds1822,
    /// 28h, DS18B20.
    Ds18b20,
    /// 3Bh, DS1825: a DS18B20 whose configuration byte also holds four address pins. Unlike parts share this code (from
    /// memory: MAX31826, MAX31850, MAX31851), so only what looks like a DS1825 is decoded, and with a doubt.
    Ds1825,
    /// 42h, DS28EA00 (code from memory): as the DS18B20, from -40 to +85 degC. Its chain and pins are not covered.
    Ds28ea00,
}

impl Family {
    /// The family with this code, if this driver decodes it.
    #[must_use]
    pub const fn from_code(code: FamilyCode) -> Option<Self> {
        match code.0 {
            0x10 => Some(Self::Ds18s20),
            0x22 => Some(Self::Ds1822),
            0x28 => Some(Self::Ds18b20),
            0x3B => Some(Self::Ds1825),
            0x42 => Some(Self::Ds28ea00),
            _ => None,
        }
    }

    /// The family of this sensor, if this driver decodes it.
    #[must_use]
    pub const fn of(rom: RomCode) -> Option<Self> {
        Self::from_code(rom.family())
    }

    /// The code in the first byte of the ROM code.
    #[must_use]
    pub const fn code(self) -> FamilyCode {
        FamilyCode(match self {
            Self::Ds18s20 => 0x10,
            Self::Ds1822 => 0x22,
            Self::Ds18b20 => 0x28,
            Self::Ds1825 => 0x3B,
            Self::Ds28ea00 => 0x42,
        })
    }

    /// Part number.
    #[must_use]
    pub const fn part(self) -> &'static str {
        match self {
            Self::Ds18s20 => "DS18S20",
            Self::Ds1822 => "DS1822",
            Self::Ds18b20 => "DS18B20",
            Self::Ds1825 => "DS1825",
            Self::Ds28ea00 => "DS28EA00",
        }
    }

    /// Whether resolution can be chosen. The DS18S20 has no configuration register.
    #[must_use]
    pub const fn has_resolution(self) -> bool {
        !matches!(self, Self::Ds18s20)
    }

    /// The longest a conversion may take, in microseconds. The DS18S20 always takes up to 750 ms (DS18S20 datasheet,
    /// features). The DS28EA00 is taken to be as the DS18B20, whose format it has (assumed).
    #[must_use]
    pub const fn conversion_max_us(self, resolution: Resolution) -> u32 {
        match self {
            Self::Ds18s20 => Resolution::Bits12.conversion_max_us(),
            _ => resolution.conversion_max_us(),
        }
    }

    /// Lowest and highest temperature of the operating range, in sixteenths of a degree Celsius (DC tables of the
    /// datasheets; DS28EA00: -40 to +85 degC).
    pub(super) const fn range_sixteenths(self) -> (i16, i16) {
        match self {
            Self::Ds28ea00 => (-40 * 16, 85 * 16),
            _ => (-55 * 16, 125 * 16),
        }
    }

    /// The temperature register after power-up: +85 degC (memory maps of the datasheets).
    pub(super) const fn power_on_raw(self) -> u16 {
        match self {
            Self::Ds18s20 => 0x00AA,
            _ => 0x0550,
        }
    }

    /// Which bits of the configuration byte are fixed, and what they are (DS18B20 datasheet (7/19), Figure 10: 0 R1 R0 1
    /// 1 1 1 1; DS1825, from memory: 0 R1 R0 1 AD3 AD2 AD1 AD0).
    pub(super) const fn fixed_configuration(self) -> Option<(u8, u8)> {
        match self {
            Self::Ds18s20 => None,
            Self::Ds1825 => Some((0x90, 0x10)),
            _ => Some((0x9F, 0x1F)),
        }
    }
}
