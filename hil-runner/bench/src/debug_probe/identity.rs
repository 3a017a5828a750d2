//! Which firmware it is: 64 bytes in an image and in the flash of a chip.

/// First bytes of an identity.
const MAGIC: &[u8; 16] = b"SLOTWISE-BRIDGE\0";
/// Bytes of an identity.
#[cfg(feature = "debug-probe")]
pub(super) const IDENTITY_BYTES: usize = 64;

/// The identity of an image, kept in the flash of the chip as well: a host reads there which image the chip holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identity {
    /// The chip it is for.
    pub chip: String,
    /// Its version.
    pub version: String,
    /// The protocol it speaks.
    pub protocol: u8,
    /// What it does on the line.
    pub role: Role,
}

/// What an image does on the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// It is the master.
    Master,
    /// It plays sensors and listens.
    Player,
}

impl Identity {
    /// From the 64 bytes in an image or in flash: magic, layout, protocol, chip, version, role. `None` if they are not.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Option<Self> {
        let rest = bytes.strip_prefix(MAGIC)?;
        let (&[layout, protocol], rest) = rest.split_first_chunk::<2>()?;
        if layout != 1 {
            return None;
        }
        let (chip, rest) = rest.split_first_chunk::<16>()?;
        let (version, rest) = rest.split_first_chunk::<16>()?;
        let role = match rest.first()? {
            0 => Role::Master,
            1 => Role::Player,
            _ => return None,
        };
        Some(Self { chip: text(chip), version: text(version), protocol, role })
    }
}

impl std::fmt::Display for Identity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "version {} for {}, protocol {}", self.version, self.chip, self.protocol)?;
        match self.role {
            Role::Master => Ok(()),
            Role::Player => write!(f, ", plays sensors"),
        }
    }
}

/// Printable text up to the first zero.
fn text(bytes: &[u8]) -> String {
    bytes.iter().take_while(|byte| **byte != 0).map(|byte| char::from(*byte)).filter(|c| c.is_ascii_graphic()).collect()
}
