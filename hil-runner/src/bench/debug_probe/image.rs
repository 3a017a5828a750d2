//! A firmware image: what is flashed, and what the host must know of it to talk to it.

use std::borrow::Cow;
use std::io::Read;
use std::path::{Path, PathBuf};

use object::{Object, ObjectSection, ObjectSymbol, SectionFlags, SectionKind, elf};

use crate::reply::ImageRecord;

/// Longest image file that is read: far more than any of these chips holds.
const MAX_BYTES: u64 = 64 << 20;
/// First bytes of an identity.
const MAGIC: &[u8; 16] = b"SLOTWISE-BRIDGE\0";
/// Bytes of an identity.
pub(super) const IDENTITY_BYTES: usize = 64;

/// Why a file is no image of a bridge.
#[derive(Debug, thiserror::Error)]
pub enum ImageError {
    /// It cannot be read.
    #[error("cannot read {}: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The cause.
        source: std::io::Error,
    },
    /// There is none for this chip.
    #[error("no firmware for {chip} comes with this tool (there is one for {known}); name one with --image")]
    NonePacked {
        /// The chip.
        chip: String,
        /// Chips with an image.
        known: String,
    },
    /// It is something else.
    #[error("{name} is no firmware image of a bridge: {why}")]
    NotOne {
        /// The file.
        name: String,
        /// What is missing.
        why: String,
    },
    /// It is for another chip.
    #[error("{name} is for {image}, and the rig is a {chip}")]
    OtherChip {
        /// The file.
        name: String,
        /// The image's chip.
        image: String,
        /// The rig's.
        chip: String,
    },
}

/// Who an image is: kept in the flash of the chip as well, so that a host can tell what is on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identity {
    /// The chip it is for.
    pub chip: String,
    /// Its version.
    pub version: String,
    /// The protocol it speaks.
    pub protocol: u8,
}

impl Identity {
    /// From the 64 bytes in an image or in flash: magic, layout, protocol, chip, version. `None` if they are not.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Option<Self> {
        let rest = bytes.strip_prefix(MAGIC)?;
        let (&[layout, protocol], rest) = rest.split_first_chunk::<2>()?;
        if layout != 1 {
            return None;
        }
        let (chip, rest) = rest.split_first_chunk::<16>()?;
        let (version, _) = rest.split_first_chunk::<16>()?;
        Some(Self { chip: text(chip), version: text(version), protocol })
    }
}

impl std::fmt::Display for Identity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "version {} for {}, protocol {}", self.version, self.chip, self.protocol)
    }
}

/// Printable text up to the first zero.
fn text(bytes: &[u8]) -> String {
    bytes.iter().take_while(|byte| **byte != 0).map(|byte| char::from(*byte)).filter(|c| c.is_ascii_graphic()).collect()
}

/// An ELF file with all that is needed of it.
#[derive(Clone, Debug)]
pub struct Image {
    /// Where it comes from, for people.
    pub name: String,
    /// The file.
    pub elf: Cow<'static, [u8]>,
    /// Who it is.
    pub identity: Identity,
    /// What it takes of the chip.
    pub size: ImageRecord,
    /// Where its identity lies in flash.
    pub(super) identity_address: u64,
    /// Where its RTT control block lies in memory.
    pub(super) rtt_address: u64,
}

impl Image {
    /// Reads an image from a file.
    ///
    /// # Errors
    /// [`ImageError`] if it is none.
    pub fn load(path: &Path) -> Result<Self, ImageError> {
        let unreadable = |source| ImageError::Read { path: path.into(), source };
        let name = path.display().to_string();
        // Opening a pipe would wait for whoever writes into it.
        if !std::fs::metadata(path).map_err(unreadable)?.is_file() {
            return Err(ImageError::NotOne { name, why: "it is no file".into() });
        }
        let mut elf = Vec::new();
        std::fs::File::open(path).map_err(unreadable)?.take(MAX_BYTES + 1).read_to_end(&mut elf).map_err(unreadable)?;
        if elf.len() as u64 > MAX_BYTES {
            return Err(ImageError::NotOne { name, why: format!("it has more than {MAX_BYTES} bytes") });
        }
        Self::parse(name, elf.into())
    }

    /// Looks into an ELF file.
    ///
    /// # Errors
    /// [`ImageError::NotOne`] if something is missing.
    pub fn parse(name: String, elf: Cow<'static, [u8]>) -> Result<Self, ImageError> {
        let no = |why: String| ImageError::NotOne { name: name.clone(), why };
        let file = object::File::parse(&*elf).map_err(|error| no(format!("it is no ELF file: {error}")))?;
        let section = file
            .section_by_name(".slotwise_identity")
            .ok_or_else(|| no("it has no section .slotwise_identity".into()))?;
        let bytes = section.data().map_err(|error| no(error.to_string()))?;
        let identity = Identity::of(bytes).ok_or_else(|| no("its identity cannot be read".into()))?;
        let identity_address = section.address();
        let rtt_address = file
            .symbols()
            .find(|symbol| symbol.name() == Ok("_SEGGER_RTT"))
            .map(|symbol| symbol.address())
            .ok_or_else(|| no("it has no RTT control block".into()))?;
        let size = size(&file);
        Ok(Self { identity, size, identity_address, rtt_address, name, elf })
    }

    /// Makes sure that it is for this chip.
    ///
    /// # Errors
    /// [`ImageError::OtherChip`] if it is for another.
    pub fn check_chip(&self, chip: &str) -> Result<(), ImageError> {
        if chip.to_ascii_uppercase().starts_with(&self.identity.chip.to_ascii_uppercase()) {
            return Ok(());
        }
        Err(ImageError::OtherChip { name: self.name.clone(), image: self.identity.chip.clone(), chip: chip.to_owned() })
    }
}

/// What the sections that are loaded take. Sizes of files are below [`MAX_BYTES`], so the sums fit.
fn size(file: &object::File<'_>) -> ImageRecord {
    let mut size = ImageRecord { flash_bytes: 0, statics_bytes: 0 };
    for section in file.sections() {
        let SectionFlags::Elf { sh_flags } = section.flags() else { continue };
        if sh_flags & u64::from(elf::SHF_ALLOC) == 0 {
            continue;
        }
        let bytes = u32::try_from(section.size()).unwrap_or(u32::MAX);
        if section.kind() != SectionKind::UninitializedData {
            size.flash_bytes = size.flash_bytes.saturating_add(bytes);
        }
        if sh_flags & u64::from(elf::SHF_WRITE) != 0 {
            size.statics_bytes = size.statics_bytes.saturating_add(bytes);
        }
    }
    size
}
