//! Resolution: how many bits a conversion yields, and how long it may take.

/// The resolution of a conversion.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Resolution {
    /// 9 bits: steps of 0.5 degC.
    Bits9,
    /// 10 bits: steps of 0.25 degC.
    Bits10,
    /// 11 bits: steps of 0.125 degC.
    Bits11,
    /// 12 bits: steps of 0.0625 degC. What sensors leave the factory with.
    #[default]
    Bits12,
}

impl Resolution {
    /// All four, coarsest first.
    pub const ALL: [Self; 4] = [Self::Bits9, Self::Bits10, Self::Bits11, Self::Bits12];

    /// R1 R0 of the configuration register (DS18B20 datasheet (7/19), Table 2).
    pub(super) const fn code(self) -> u8 {
        match self {
            Self::Bits9 => 0,
            Self::Bits10 => 1,
            Self::Bits11 => 2,
            Self::Bits12 => 3,
        }
    }

    /// From bits 6 and 5 of a configuration byte.
    pub(super) const fn from_configuration(byte: u8) -> Self {
        match byte >> 5 & 3 {
            0 => Self::Bits9,
            1 => Self::Bits10,
            2 => Self::Bits11,
            _ => Self::Bits12,
        }
    }

    /// Number of bits.
    #[must_use]
    pub const fn bits(self) -> u8 {
        9 + self.code()
    }

    /// The resolution with this number of bits.
    #[must_use]
    pub const fn from_bits(bits: u8) -> Option<Self> {
        match bits {
            9 => Some(Self::Bits9),
            10 => Some(Self::Bits10),
            11 => Some(Self::Bits11),
            12 => Some(Self::Bits12),
            _ => None,
        }
    }

    /// Size of one step, in sixteenths of a degree Celsius.
    #[must_use]
    pub const fn step_sixteenths(self) -> i16 {
        8 >> self.code()
    }

    /// The low bits of a raw value that are undefined (DS18B20 datasheet (7/19), Measuring Temperature).
    pub(super) const fn undefined_bits(self) -> u16 {
        (1 << (3 - self.code())) - 1
    }

    /// The longest a conversion may take, in microseconds (DS18B20 datasheet (7/19), Table 2: 93.75, 187.5, 375, 750 ms).
    #[must_use]
    pub const fn conversion_max_us(self) -> u32 {
        93_750 << self.code()
    }
}
