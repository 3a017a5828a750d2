//! Scratchpads as a judge sees them: by the decoder of the judge of readings, and not by the driver's.

use slotwise::thermometer::Family;

use slotwise_limits::figures::{CONVERSION_MOST_NS, DS18S20_CONVERSION_MOST_NS};
use slotwise_limits::registers::{Registers, Truth, Unsound, residue};

/// Nine bytes whose check byte is right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Scratchpad([u8; 9]);

/// Why nine bytes are no scratchpad.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ScratchpadFault {
    /// All bits are 1: no sensor drove the line.
    AllOnes,
    /// All bits are 0, which passes the CRC.
    AllZeros,
    /// The last byte is not the CRC of those before it.
    Crc {
        /// What it has to be.
        computed: u8,
    },
}

/// What a scratchpad says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Number {
    /// The temperature in sixteenths of a degree Celsius.
    pub(super) sixteenths: i32,
    /// Bits of resolution; none of a part without a configuration register.
    pub(super) bits: Option<u8>,
}

impl Scratchpad {
    /// Looks at nine bytes in the order of the wire.
    pub(super) fn new(bytes: [u8; 9]) -> Result<Self, ScratchpadFault> {
        if bytes == [0xFF; 9] {
            Err(ScratchpadFault::AllOnes)
        } else if bytes == [0; 9] {
            Err(ScratchpadFault::AllZeros)
        } else if residue(&bytes) != 0 {
            Err(ScratchpadFault::Crc { computed: residue(&bytes[..8]) })
        } else {
            Ok(Self(bytes))
        }
    }

    /// Whether these bytes are one.
    pub(super) fn is_intact(bytes: &[u8]) -> bool {
        <[u8; 9]>::try_from(bytes).is_ok_and(|bytes| Self::new(bytes).is_ok())
    }

    pub(super) const fn bytes(self) -> [u8; 9] {
        self.0
    }

    /// What it says, if a sensor of this family can send it.
    pub(super) fn number(self, family: Family) -> Result<Number, Unsound> {
        let registers = Registers::inspect(family, self.0)?;
        Ok(Number { sixteenths: Truth::computed(&registers).sixteenths, bits: registers.resolution_bits })
    }

    /// Whether the register holds what it holds after power-up: 0550h, and 00AAh in a DS18S20 (DS18B20 datasheet (7/19), Figure 9; DS18S20
    /// datasheet, Table 1).
    pub(super) const fn is_power_on(self, family: Family) -> bool {
        let register = u16::from_le_bytes([self.0[0], self.0[1]]);
        register == if matches!(family, Family::Ds18s20) { 0x00AA } else { 0x0550 }
    }
}

/// Lowest and highest temperature of the operating range in sixteenths of a degree (DC tables of the datasheets; DS28EA00: -40 to +85
/// degC).
pub(super) const fn range_sixteenths(family: Family) -> (i32, i32) {
    match family {
        Family::Ds28ea00 => (-40 * 16, 85 * 16),
        _ => (-55 * 16, 125 * 16),
    }
}

/// tCONV at most, in nanoseconds; all parts but the DS18S20 as the DS18B20.
pub(super) const fn conversion_most_ns(family: Family, bits: u8) -> u64 {
    let [nine, ten, eleven, twelve] = CONVERSION_MOST_NS;
    match (family, bits) {
        (Family::Ds18s20, _) => DS18S20_CONVERSION_MOST_NS,
        (_, ..=9) => nine,
        (_, 10) => ten,
        (_, 11) => eleven,
        _ => twelve,
    }
}
