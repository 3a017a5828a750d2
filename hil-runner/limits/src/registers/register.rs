//! What the nine bytes of a scratchpad are allowed to be, by the figures of the datasheets.

use slotwise::thermometer::Family;

use super::check_byte::residue;
use slotwise_terms::FailureKind;

/// Scratchpad bytes, sound as far as the datasheets can tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Registers {
    /// Part that sent them.
    pub part: Family,
    /// The nine bytes.
    pub bytes: [u8; 9],
    /// Bits of resolution. None on a DS18S20.
    pub resolution_bits: Option<u8>,
    /// TH.
    pub high: i8,
    /// TL.
    pub low: i8,
}

/// What is wrong with bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unsound {
    /// All ones.
    #[error("nine bytes FFh: no sensor drove the line")]
    AllOnes,
    /// All zeros, which the CRC does not notice.
    #[error("nine bytes 00h: the line was held low")]
    AllZeros,
    /// The CRC does not fit.
    #[error("the CRC does not fit")]
    Crc,
    /// The configuration byte has bits that are fixed the other way.
    #[error("the configuration byte cannot occur")]
    Configuration,
    /// The bits that all repeat the sign do not agree.
    #[error("the sign bits disagree")]
    SignBits,
    /// The counters of a DS18S20 are beyond what its equation allows.
    #[error("the counters are impossible")]
    Counters,
}

impl Unsound {
    /// The failure that a driver must report for it.
    #[must_use]
    pub const fn kind(self) -> FailureKind {
        match self {
            Self::AllOnes => FailureKind::NoAnswer,
            Self::AllZeros => FailureKind::AllZeros,
            Self::Crc => FailureKind::Crc,
            Self::Configuration => FailureKind::ImpossibleConfiguration,
            Self::SignBits => FailureKind::SignBits,
            Self::Counters => FailureKind::ImpossibleCounters,
        }
    }
}

impl Registers {
    /// Looks at nine bytes that a sensor sent.
    ///
    /// # Errors
    /// [`Unsound`] if they cannot be what a sensor of this part sends.
    pub fn inspect(part: Family, bytes: [u8; 9]) -> Result<Self, Unsound> {
        if bytes == [0xFF; 9] {
            return Err(Unsound::AllOnes);
        }
        if bytes == [0; 9] {
            return Err(Unsound::AllZeros);
        }
        if residue(&bytes) != 0 {
            return Err(Unsound::Crc);
        }
        let resolution_bits = configured_bits(part, bytes[4])?;
        let raw = u16::from_le_bytes([bytes[0], bytes[1]]);
        // Bits 15 to 11 repeat the sign (DS18B20 datasheet (7/19), Figure 4); 15 to 8 in a DS18S20 (its Figure 2).
        let signs = if part == Family::Ds18s20 { 0xFF00 } else { 0xF800 };
        if raw & signs != 0 && raw & signs != signs {
            return Err(Unsound::SignBits);
        }
        // COUNT PER C is fixed at 16 and COUNT REMAIN counts down from it (DS18S20 datasheet, Memory).
        if part == Family::Ds18s20 && (bytes[7] != 16 || bytes[6] > 16) {
            return Err(Unsound::Counters);
        }
        Ok(Self { part, bytes, resolution_bits, high: bytes[2].cast_signed(), low: bytes[3].cast_signed() })
    }

    /// The temperature register.
    #[must_use]
    pub const fn raw(&self) -> u16 {
        u16::from_le_bytes([self.bytes[0], self.bytes[1]])
    }

    /// The bits of it that mean nothing at this resolution (DS18B20 datasheet (7/19), Measuring Temperature: bits 2, 1
    /// and 0 at 9 bits, 1 and 0 at 10, 0 at 11).
    #[must_use]
    pub const fn undefined_bits(&self) -> u16 {
        match self.resolution_bits {
            Some(9) => 0b111,
            Some(10) => 0b11,
            Some(11) => 0b1,
            _ => 0,
        }
    }

    /// The configuration byte of a DS18B20 with this resolution, which is what tables of conversion times go by.
    #[must_use]
    pub fn configuration(&self) -> Option<u8> {
        self.resolution_bits.map(|bits| 0x1F | (bits - 9) << 5)
    }
}

/// Bits of resolution by R1 R0 (DS18B20 datasheet (7/19), Figure 10 and Table 2).
fn configured_bits(part: Family, byte: u8) -> Result<Option<u8>, Unsound> {
    let (mask, fixed) = match part {
        Family::Ds18s20 => {
            // No such register: the byte is reserved and reads FFh (DS18S20 datasheet, Memory).
            return if byte == 0xFF { Ok(None) } else { Err(Unsound::Configuration) };
        }
        // The low four bits are the address pins (DS1825 datasheet, Figure 7).
        Family::Ds1825 => (0b1001_0000, 0b0001_0000),
        Family::Ds1822 | Family::Ds18b20 | Family::Ds28ea00 => (0b1001_1111, 0b0001_1111),
    };
    if byte & mask == fixed { Ok(Some(9 + (byte >> 5 & 0b11))) } else { Err(Unsound::Configuration) }
}

#[cfg(test)]
mod tests {
    use slotwise_golden::{Conversions, table};

    use super::*;

    /// +85 degC at 12 bits, TH 75, TL 70.
    const POWER_ON: [u8; 9] = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C];

    /// `POWER_ON` with some bytes changed, and the CRC made to fit again.
    fn frame(changes: &[(usize, u8)]) -> [u8; 9] {
        let mut bytes = POWER_ON;
        for &(place, byte) in changes {
            bytes[place] = byte;
        }
        bytes[8] = residue(&bytes[..8]);
        bytes
    }

    #[test]
    fn reads_the_resolution_that_the_datasheet_gives_for_each_configuration() {
        for row in Conversions::embedded().unwrap().of(table::DS18B20_CONFIG_RESOLUTION) {
            let registers = Registers::inspect(Family::Ds18b20, frame(&[(4, row.given_bytes().unwrap()[0])])).unwrap();
            assert_eq!(registers.resolution_bits.map(|bits| i32::from(bits) * 10_000), row.ten_thousandths().ok());
            assert_eq!(registers.configuration(), Some(row.given_bytes().unwrap()[0]));
        }
    }

    #[test]
    fn names_what_is_wrong_with_bytes() {
        let cases = [
            ([0xFF; 9], Unsound::AllOnes),
            ([0; 9], Unsound::AllZeros),
            ([0x51, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C], Unsound::Crc),
            (frame(&[(4, 0xFF)]), Unsound::Configuration),
            (frame(&[(1, 0x45)]), Unsound::SignBits),
        ];
        for (bytes, unsound) in cases {
            assert_eq!(Registers::inspect(Family::Ds18b20, bytes), Err(unsound));
        }
        let counters = frame(&[(0, 0xAA), (1, 0), (4, 0xFF), (7, 15)]);
        assert_eq!(Registers::inspect(Family::Ds18s20, counters), Err(Unsound::Counters));
    }

    #[test]
    fn takes_the_limits_as_signed_numbers() {
        let registers = Registers::inspect(Family::Ds18b20, frame(&[(2, 0x1E), (3, 0xF6)])).unwrap();
        assert_eq!((registers.high, registers.low), (30, -10));
    }
}
