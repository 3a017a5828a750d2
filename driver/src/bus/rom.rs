//! The 64-bit ROM code: family, serial number and check byte.

use core::fmt;
use core::str::FromStr;

use crate::crc::crc8;

/// The first byte of a ROM code, which says what kind of device it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(transparent))]
pub struct FamilyCode(pub u8);

impl fmt::Display for FamilyCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02X}h", self.0)
    }
}

/// A valid ROM code, in wire order: family code, six bytes of serial number (low byte first), CRC (DS18B20 datasheet
/// (7/19), Figure 8).
///
/// Prints as `28:112233445566:56`, all in wire order. Parses from the same, or from 16 hexadecimal digits with any
/// of `:`, `-`, `.` or blanks between the bytes.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
// Aligned, so that small cores copy and compare it by words.
#[repr(align(4))]
pub struct RomCode([u8; 8]);

/// Why eight bytes are no ROM code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum RomError {
    /// All bits are 1: no sensor drove the line.
    #[error("all bits are 1: no sensor answered")]
    AllOnes,
    /// All bits are 0. This passes the CRC, and is what a line that is held low reads.
    #[error("all bits are 0: the line was held low")]
    AllZeros,
    /// The family code is 00h, which no device has.
    #[error("family code 00h does not exist")]
    NoFamily,
    /// The last byte is not the CRC of the seven before it.
    #[error("CRC is {received:02X}h where {computed:02X}h belongs")]
    Crc {
        /// The CRC computed over the first seven bytes.
        computed: u8,
        /// The eighth byte.
        received: u8,
    },
}

/// Why a text is no ROM code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum ParseRomError {
    /// A character is neither a hexadecimal digit nor a separator.
    #[error("{found:?} at character {position} is no hexadecimal digit")]
    Digit {
        /// The character.
        found: char,
        /// Its position in characters, from 1.
        position: usize,
    },
    /// There are not exactly 16 digits.
    #[error("{digits} hexadecimal digits where 16 belong (family, serial number, CRC in wire order)")]
    Length {
        /// How many digits there are.
        digits: usize,
    },
    /// The digits make no ROM code.
    #[error(transparent)]
    Rom(#[from] RomError),
}

impl RomCode {
    /// Checks eight bytes in wire order.
    ///
    /// # Errors
    /// [`RomError`] says what is wrong with them.
    pub fn new(bytes: [u8; 8]) -> Result<Self, RomError> {
        match Self::check(&bytes) {
            Some(error) => Err(error),
            None => Ok(Self(bytes)),
        }
    }

    fn check(bytes: &[u8; 8]) -> Option<RomError> {
        if bytes.iter().all(|byte| *byte == 0xFF) {
            return Some(RomError::AllOnes);
        }
        if bytes.iter().all(|byte| *byte == 0) {
            return Some(RomError::AllZeros);
        }
        let computed = crc8(&bytes[..7]);
        if computed != bytes[7] {
            return Some(RomError::Crc { computed, received: bytes[7] });
        }
        (bytes[0] == 0).then_some(RomError::NoFamily)
    }

    /// The eight bytes in wire order.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; 8] {
        &self.0
    }

    /// The family code.
    #[must_use]
    pub const fn family(&self) -> FamilyCode {
        FamilyCode(self.0[0])
    }

    /// The serial number, low byte first.
    #[must_use]
    pub const fn serial(&self) -> [u8; 6] {
        let [_, a, b, c, d, e, f, _] = self.0;
        [a, b, c, d, e, f]
    }

    /// The check byte.
    #[must_use]
    pub const fn crc(&self) -> u8 {
        self.0[7]
    }
}

impl fmt::Display for RomCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [family, a, b, c, d, e, g, crc] = self.0;
        write!(f, "{family:02X}:{a:02X}{b:02X}{c:02X}{d:02X}{e:02X}{g:02X}:{crc:02X}")
    }
}

impl fmt::Debug for RomCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "RomCode({self})")
    }
}

#[cfg(feature = "defmt")]
impl defmt::Format for RomCode {
    fn format(&self, f: defmt::Formatter<'_>) {
        let [family, a, b, c, d, e, g, crc] = self.0;
        defmt::write!(
            f,
            "{=u8:02X}:{=u8:02X}{=u8:02X}{=u8:02X}{=u8:02X}{=u8:02X}{=u8:02X}:{=u8:02X}",
            family,
            a,
            b,
            c,
            d,
            e,
            g,
            crc
        );
    }
}

impl FromStr for RomCode {
    type Err = ParseRomError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let mut bytes = [0; 8];
        let mut digits = 0;
        for (index, found) in text.chars().enumerate() {
            if digits % 2 == 0 && matches!(found, ':' | '-' | '.' | ' ') {
                continue;
            }
            let value = found.to_digit(16).ok_or(ParseRomError::Digit { found, position: index + 1 })?;
            if let Some(byte) = bytes.get_mut(digits / 2) {
                // A hexadecimal digit is below 16 and fits.
                *byte = *byte << 4 | value as u8;
            }
            digits += 1;
        }
        if digits != 16 {
            return Err(ParseRomError::Length { digits });
        }
        Ok(Self::new(bytes)?)
    }
}

impl TryFrom<[u8; 8]> for RomCode {
    type Error = RomError;

    fn try_from(bytes: [u8; 8]) -> Result<Self, Self::Error> {
        Self::new(bytes)
    }
}

#[cfg(feature = "serde")]
mod as_data {
    //! As text for people, as eight bytes for machines; both are checked on the way in.

    use serde::de::{Deserialize, Deserializer, Error, Visitor};
    use serde::ser::{Serialize, Serializer};

    use super::{RomCode, fmt};

    impl Serialize for RomCode {
        fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
            if serializer.is_human_readable() { serializer.collect_str(self) } else { self.0.serialize(serializer) }
        }
    }

    struct Text;

    impl Visitor<'_> for Text {
        type Value = RomCode;

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("a ROM code such as \"28:112233445566:56\"")
        }

        fn visit_str<E: Error>(self, text: &str) -> Result<RomCode, E> {
            text.parse().map_err(E::custom)
        }
    }

    impl<'de> Deserialize<'de> for RomCode {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
            if deserializer.is_human_readable() {
                deserializer.deserialize_str(Text)
            } else {
                RomCode::new(<[u8; 8]>::deserialize(deserializer)?).map_err(D::Error::custom)
            }
        }
    }
}
