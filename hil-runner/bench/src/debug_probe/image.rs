//! A firmware image: what is flashed, and what the host must know of it to talk to it.

use std::borrow::Cow;
use std::io::Read;
use std::path::Path;

use object::{Object, ObjectSection, ObjectSymbol, SectionFlags, SectionKind, elf};

use super::error::ImageError;
use super::identity::Identity;
use slotwise_rig::reply::ImageRecord;

/// Longest image file that is read: far more than any of these chips holds.
const MAX_BYTES: u64 = 64 << 20;

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

    /// Reads an ELF file.
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
