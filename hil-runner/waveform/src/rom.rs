//! ROM codes as a judge sees them: eight bytes and a check byte of its own.

use std::fmt;

use slotwise::bus::FamilyCode;
use slotwise::thermometer::Family;

use slotwise_limits::registers::residue;

/// A ROM code whose check byte is right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Rom([u8; 8]);

/// Why eight bytes are no ROM code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub(super) enum RomFault {
    /// All bits are 1: no sensor drove the line.
    #[error("all bits are 1: no sensor answered")]
    AllOnes,
    /// All bits are 0, which passes the CRC.
    #[error("all bits are 0: the line was held low")]
    AllZeros,
    /// No device has the family code 00h.
    #[error("family code 00h does not exist")]
    NoFamily,
    /// The last byte is not the CRC of those before it.
    #[error("CRC is {received:02X}h where {computed:02X}h belongs")]
    Crc {
        /// What it has to be.
        computed: u8,
        /// What it is.
        received: u8,
    },
}

impl Rom {
    /// Looks at eight bytes in the order of the wire.
    pub(super) fn new(bytes: [u8; 8]) -> Result<Self, RomFault> {
        let [family, .., received] = bytes;
        if bytes == [0xFF; 8] {
            Err(RomFault::AllOnes)
        } else if bytes == [0; 8] {
            Err(RomFault::AllZeros)
        } else if residue(&bytes) != 0 {
            Err(RomFault::Crc { computed: residue(&bytes[..7]), received })
        } else if family == 0 {
            Err(RomFault::NoFamily)
        } else {
            Ok(Self(bytes))
        }
    }

    /// Whether these bytes are one.
    pub(super) fn is_intact(bytes: &[u8]) -> bool {
        <[u8; 8]>::try_from(bytes).is_ok_and(|bytes| Self::new(bytes).is_ok())
    }

    /// The family of thermometers that it belongs to, if it is one of those with a datasheet at hand.
    pub(super) const fn family(self) -> Option<Family> {
        Family::from_code(FamilyCode(self.0[0]))
    }
}

impl fmt::Display for Rom {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [family, a, b, c, d, e, g, crc] = self.0;
        write!(f, "{family:02X}:{a:02X}{b:02X}{c:02X}{d:02X}{e:02X}{g:02X}:{crc:02X}")
    }
}
