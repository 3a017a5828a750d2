//! The identity record of an image: which firmware it is, and that a host finds it on a chip.

use super::images::Role;
use object::read::elf::ElfFile32;
use object::{Endianness, Object, ObjectSection, SectionFlags, elf};
use thiserror::Error;

/// The section of the record.
const SECTION: &str = ".slotwise_identity";
/// Its first bytes.
const MAGIC: &[u8; 16] = b"SLOTWISE-BRIDGE\0";
/// Its layout, as this module reads it.
const LAYOUT: u8 = 1;
/// How far from the start of flash a host looks for it.
const WITHIN: u64 = 4096;

/// What a record says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    /// Protocol version of the frames.
    pub protocol: u8,
    /// The chip.
    pub chip: String,
    /// Version of the firmware.
    pub version: String,
    /// What it does on the line.
    pub role: Role,
}

/// What is wrong with a record.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum IdentityError {
    /// The image is no ELF file of 32 bits.
    #[error("not a 32-bit ELF file")]
    Elf,
    /// It has no such section.
    #[error("no section {SECTION}")]
    Missing,
    /// The section holds something else.
    #[error("section {SECTION} holds no record of layout {LAYOUT}")]
    Content,
    /// A host would not find it.
    #[error("the identity record lies {0} bytes behind the start of flash, farther than a host looks")]
    TooFar(u64),
}

impl Identity {
    /// Reads the record of an image.
    ///
    /// # Errors
    ///
    /// When there is none, or it lies where no host looks.
    pub fn read(image: &[u8]) -> Result<Self, IdentityError> {
        let file = ElfFile32::<Endianness>::parse(image).map_err(|_| IdentityError::Elf)?;
        let section = file.section_by_name(SECTION).ok_or(IdentityError::Missing)?;
        let in_flash = file.sections().filter(|section| {
            let SectionFlags::Elf { sh_flags, .. } = section.flags() else { return false };
            section.size() > 0 && sh_flags.contains(elf::SHF_ALLOC) && !sh_flags.contains(elf::SHF_WRITE)
        });
        let start = in_flash.map(|section| section.address()).min().unwrap_or_default();
        let distance = section.address() - start;
        if distance + section.size() > WITHIN {
            return Err(IdentityError::TooFar(distance));
        }
        section.data().ok().and_then(Self::of).ok_or(IdentityError::Content)
    }

    /// From the bytes of a record.
    fn of(record: &[u8]) -> Option<Self> {
        let record = record.strip_prefix(MAGIC)?;
        let (&[layout, protocol], texts) = record.split_first_chunk()?;
        let text = |range| {
            let bytes: &[u8] = texts.get(range)?;
            String::from_utf8(bytes.iter().copied().take_while(|byte| *byte != 0).collect()).ok()
        };
        let role = match texts.get(32)? {
            0 => Role::Master,
            1 => Role::Player,
            _ => return None,
        };
        (layout == LAYOUT).then_some(Self { protocol, chip: text(0..16)?, version: text(16..32)?, role })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RECORD: &[u8; 51] = b"SLOTWISE-BRIDGE\0\x01\x07STM32F103\0\0\0\0\0\0\x000.1.0\0\0\0\0\0\0\0\0\0\0\0\x01";

    #[test]
    fn a_record_says_what_stands_in_its_fields() {
        let expected = Identity { protocol: 7, chip: "STM32F103".into(), version: "0.1.0".into(), role: Role::Player };
        assert_eq!(Identity::of(RECORD), Some(expected));
    }

    #[test]
    fn other_layouts_and_halves_are_no_record() {
        let mut other = *RECORD;
        other[16] = 2;
        assert_eq!(Identity::of(&other), None);
        let mut strange = *RECORD;
        strange[50] = 2;
        assert_eq!(Identity::of(&strange), None, "a role that is none");
        for length in 0..RECORD.len() {
            assert_eq!(Identity::of(&RECORD[..length]), None, "{length} bytes");
        }
        assert_eq!(Identity::read(b"no image"), Err(IdentityError::Elf));
    }
}
