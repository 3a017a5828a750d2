//! The nine bytes of the scratchpad, and what they mean in each family.

use super::{AlarmLimits, Doubt, Doubts, Family, Resolution, Settings, Temperature};
use crate::crc::crc8;

/// COUNT PER C of the DS18S20 is fixed at 16 (DS18S20 datasheet, Memory).
const COUNT_PER_C: u8 = 16;
/// Byte 6 of a power-on DS18S20 scratchpad (from memory; it makes the formula give +85 degC), and of factory images.
const BYTE_6: u8 = 0x0C;
/// Byte 7 (DS18B20 datasheet (7/19), Figure 9; the same in the DS18S20, where it is COUNT PER C).
const BYTE_7: u8 = 0x10;
/// Byte 5 (DS18B20 datasheet (7/19), Figure 9; DS18S20, Memory).
const BYTE_5: u8 = 0xFF;

/// A scratchpad whose CRC is right.
///
/// | byte | content |
/// |---|---|
/// | 0, 1 | temperature, low byte first |
/// | 2, 3 | TH, TL |
/// | 4 | configuration (FFh in a DS18S20) |
/// | 5 | reserved, FFh |
/// | 6 | reserved; COUNT REMAIN in a DS18S20 |
/// | 7 | reserved, 10h; COUNT PER C in a DS18S20 |
/// | 8 | CRC |
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(try_from = "[u8; 9]", into = "[u8; 9]")
)]
pub struct Scratchpad {
    bytes: [u8; 9],
}

/// Why nine bytes are no scratchpad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum FrameError {
    /// All bits are 1: the sensor did not answer.
    #[error("the sensor did not answer (all bits read 1)")]
    NoAnswer,
    /// All bits are 0. This passes the CRC, and is what a line that is held low reads.
    #[error("line held low while reading (all bits read 0)")]
    AllZeros,
    /// The last byte is not the CRC of the eight before it.
    #[error("CRC is {received:02X}h where {computed:02X}h belongs")]
    Crc {
        /// The CRC computed over the first eight bytes.
        computed: u8,
        /// The ninth byte.
        received: u8,
        /// The nine bytes, as evidence.
        bytes: [u8; 9],
    },
}

impl FrameError {
    /// The nine bytes as received.
    #[must_use]
    pub const fn bytes(&self) -> [u8; 9] {
        match self {
            Self::NoAnswer => [0xFF; 9],
            Self::AllZeros => [0; 9],
            Self::Crc { bytes, .. } => *bytes,
        }
    }
}

/// Why an intact scratchpad holds no temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum DecodeError {
    /// The configuration byte cannot occur in this family, so neither resolution nor layout is known.
    #[error("configuration byte {byte:02X}h cannot occur in this family")]
    ImpossibleConfiguration {
        /// Byte 4.
        byte: u8,
    },
    /// The upper bits of the temperature must all equal its sign and do not.
    #[error("sign bits of {raw:04X}h disagree")]
    SignBits {
        /// Bytes 1 and 0.
        raw: u16,
    },
    /// The counters of a DS18S20 are outside what its formula allows: COUNT PER C is 16, COUNT REMAIN at most that.
    #[error("counters {remain} of {per_c} are impossible")]
    ImpossibleCounters {
        /// COUNT REMAIN, byte 6.
        remain: u8,
        /// COUNT PER C, byte 7.
        per_c: u8,
    },
}

/// What an intact scratchpad says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Decoded {
    /// Temperature, with the undefined low bits cleared.
    pub temperature: Temperature,
    /// Alarm limits and resolution.
    pub settings: Settings,
    /// What is odd about the bytes themselves. Whether the value is fresh cannot be seen in them.
    pub doubts: Doubts,
}

impl Scratchpad {
    /// Checks nine bytes in wire order.
    ///
    /// # Errors
    /// [`FrameError`] says what is wrong with them.
    pub fn new(bytes: [u8; 9]) -> Result<Self, FrameError> {
        if bytes.iter().all(|byte| *byte == 0xFF) {
            return Err(FrameError::NoAnswer);
        }
        if bytes.iter().all(|byte| *byte == 0) {
            return Err(FrameError::AllZeros);
        }
        let computed = crc8(&bytes[..8]);
        if computed != bytes[8] {
            return Err(FrameError::Crc { computed, received: bytes[8], bytes });
        }
        Ok(Self { bytes })
    }

    /// The scratchpad of a sensor of `family` with this content: for replays, fixtures and tests.
    ///
    /// The temperature is rounded down to the resolution, and limited to what the register holds, -128 to just under 128
    /// degC. Reserved bytes are those of the DS18B20.
    #[must_use]
    pub fn encode(family: Family, temperature: Temperature, settings: Settings) -> Self {
        // The counters of a DS18S20 reach 4/16 less far up.
        let sixteenths = temperature.sixteenths().clamp(-128 * 16, 128 * 16 - 5);
        let (raw, byte_4, byte_6) = match family.fixed_configuration() {
            Some((_, fixed)) => {
                let resolution = settings.resolution.unwrap_or_default();
                let raw = sixteenths.cast_unsigned() & !resolution.undefined_bits();
                (raw, fixed | resolution.code() << 5, BYTE_6)
            }
            None => {
                // T = TEMP_READ - 0.25 + (16 - COUNT_REMAIN) / 16, TEMP_READ in whole degrees.
                let shifted = sixteenths + 4;
                let remain = (16 - (shifted & 15)) as u8;
                ((shifted >> 4 << 1).cast_unsigned(), 0xFF, remain)
            }
        };
        let [low, high] = raw.to_le_bytes();
        let AlarmLimits { low: tl, high: th } = settings.limits;
        let mut bytes = [low, high, th.cast_unsigned(), tl.cast_unsigned(), byte_4, BYTE_5, byte_6, BYTE_7, 0];
        bytes[8] = crc8(&bytes[..8]);
        Self { bytes }
    }

    /// The nine bytes in wire order.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; 9] {
        &self.bytes
    }

    /// Bytes 1 and 0: the temperature register.
    #[must_use]
    pub const fn raw(&self) -> u16 {
        u16::from_le_bytes([self.bytes[0], self.bytes[1]])
    }

    /// The whole degrees that the sensor compares with its alarm limits: the fraction is dropped towards minus infinity. Bits
    /// 11 to 4 (DS18B20 datasheet (7/19), Alarm Signaling), or 8 to 1 of a DS18S20 (its datasheet, Alarm), where the
    /// refined temperature can be another whole degree.
    #[must_use]
    pub const fn whole_degrees(&self, family: Family) -> i16 {
        match family {
            Family::Ds18s20 => self.raw().cast_signed() >> 1,
            _ => self.raw().cast_signed() >> 4,
        }
    }

    /// Alarm limits, or two bytes of the user's.
    #[must_use]
    pub const fn limits(&self) -> AlarmLimits {
        AlarmLimits { high: self.bytes[2].cast_signed(), low: self.bytes[3].cast_signed() }
    }

    /// The levels at the address pins AD3 to AD0 of a DS1825, 0 to 15: which of 16 places on the line it sits in. They are the low
    /// half of its configuration byte (DS1825 datasheet, p. 8, Figure 7; the other bits, 0 R1 R0 1, from memory).
    ///
    /// `None` in other families, and where the byte cannot be a DS1825's, as with the unlike parts that share its code.
    #[must_use]
    pub const fn address_pins(&self, family: Family) -> Option<u8> {
        match (family, family.fixed_configuration()) {
            (Family::Ds1825, Some((mask, fixed))) if self.bytes[4] & mask == fixed => Some(self.bytes[4] & 0x0F),
            _ => None,
        }
    }

    /// Decodes the scratchpad of a sensor of `family`.
    ///
    /// # Errors
    /// [`DecodeError`] if the bytes hold no temperature of this family.
    pub fn decode(&self, family: Family) -> Result<Decoded, DecodeError> {
        let mut doubts = Doubts::NONE;
        let raw = self.raw();
        let (temperature, resolution) = match family.fixed_configuration() {
            Some(fixed) => {
                let resolution = self.resolution(fixed)?;
                sign_bits_agree(raw, 11)?;
                if raw & resolution.undefined_bits() != 0 {
                    doubts.insert(Doubt::UndefinedBits);
                }
                // Published for the DS18B20, which the DS1822 is compatible with; not for the others.
                let published = matches!(family, Family::Ds18b20 | Family::Ds1822);
                if published && (self.bytes[5] != BYTE_5 || self.bytes[7] != BYTE_7) {
                    doubts.insert(Doubt::ReservedBytes);
                }
                let defined = raw & !resolution.undefined_bits();
                (Temperature::from_sixteenths(defined.cast_signed()), Some(resolution))
            }
            None => {
                if self.bytes[4] != 0xFF {
                    return Err(DecodeError::ImpossibleConfiguration { byte: self.bytes[4] });
                }
                sign_bits_agree(raw, 8)?;
                if self.bytes[5] != BYTE_5 {
                    doubts.insert(Doubt::ReservedBytes);
                }
                (self.refined(raw)?, None)
            }
        };
        let (lowest, highest) = family.range_sixteenths();
        if !(lowest..=highest).contains(&temperature.sixteenths()) {
            doubts.insert(Doubt::OutOfRange);
        }
        if family == Family::Ds1825 {
            doubts.insert(Doubt::SharedFamily);
        }
        Ok(Decoded { temperature, settings: Settings { limits: self.limits(), resolution }, doubts })
    }

    fn resolution(&self, (mask, fixed): (u8, u8)) -> Result<Resolution, DecodeError> {
        let byte = self.bytes[4];
        if byte & mask == fixed {
            Ok(Resolution::from_configuration(byte))
        } else {
            Err(DecodeError::ImpossibleConfiguration { byte })
        }
    }

    /// The extended resolution of a DS18S20: T = TEMP_READ - 0.25 + (COUNT_PER_C - COUNT_REMAIN) / COUNT_PER_C, with the
    /// 0.5 degC bit of TEMP_READ dropped (DS18S20 datasheet, Measuring Temperature). Dropping means towards minus
    /// infinity, so that FFFFh with COUNT_REMAIN 4 gives -0.5.
    fn refined(&self, raw: u16) -> Result<Temperature, DecodeError> {
        let (remain, per_c) = (self.bytes[6], self.bytes[7]);
        if per_c != COUNT_PER_C || remain > COUNT_PER_C {
            return Err(DecodeError::ImpossibleCounters { remain, per_c });
        }
        let whole = raw.cast_signed() >> 1;
        Ok(Temperature::from_sixteenths(whole * 16 - 4 + i16::from(COUNT_PER_C - remain)))
    }
}

impl TryFrom<[u8; 9]> for Scratchpad {
    type Error = FrameError;

    fn try_from(bytes: [u8; 9]) -> Result<Self, FrameError> {
        Self::new(bytes)
    }
}

impl From<Scratchpad> for [u8; 9] {
    fn from(scratchpad: Scratchpad) -> Self {
        scratchpad.bytes
    }
}

/// Checks that all bits of `raw` from `lowest` up equal the sign.
fn sign_bits_agree(raw: u16, lowest: u32) -> Result<(), DecodeError> {
    let sign = raw.cast_signed() >> lowest;
    if sign == 0 || sign == -1 { Ok(()) } else { Err(DecodeError::SignBits { raw }) }
}
