//! A linked image: its functions with their code, how much of it lies in flash, and how much in memory that is written.

use object::read::elf::ElfFile32;
use object::{Endianness, Object, ObjectSection, ObjectSymbol, SectionFlags, SymbolKind, elf};
use std::collections::BTreeMap;
use thiserror::Error;

/// Why an image cannot be read.
#[derive(Debug, Error)]
pub enum ImageError {
    /// It is no ELF file of 32 bits.
    #[error("not a 32-bit ELF file")]
    Elf(#[from] object::Error),
    /// It has no function symbols: nothing can be said about it.
    #[error("no function symbols in the image (was it stripped?)")]
    NoFunctions,
}

/// A function of an image.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Function {
    /// Its name as its author wrote it.
    pub name: String,
    /// Its first instruction.
    pub address: u32,
    /// Where the next thing begins.
    pub end: u32,
}

/// A linked image.
#[derive(Debug, Clone, Default)]
pub struct Image {
    /// The functions by address.
    pub functions: BTreeMap<u32, Function>,
    /// Bytes that lie in flash: code, constants, and what statics begin with.
    pub flash: u64,
    /// Bytes of memory taken by statics.
    pub statics: u64,
    /// Loaded sections by address.
    sections: BTreeMap<u32, Vec<u8>>,
    /// Where code (`true`) and data (`false`) begin inside code sections.
    marks: BTreeMap<u32, bool>,
}

impl Image {
    /// Reads an image.
    ///
    /// # Errors
    ///
    /// A file of another kind, or one without symbols.
    pub fn read(bytes: &[u8]) -> Result<Self, ImageError> {
        let file = ElfFile32::<Endianness>::parse(bytes)?;
        let mut image = Self::default();
        for section in file.sections() {
            let SectionFlags::Elf { sh_type, sh_flags } = section.flags() else { continue };
            if !sh_flags.contains(elf::SHF_ALLOC) {
                continue;
            }
            let in_file = sh_type != elf::SHT_NOBITS;
            if in_file {
                image.flash += section.size();
                image.sections.insert(narrow(section.address()), section.data()?.to_vec());
            }
            if sh_flags.contains(elf::SHF_WRITE) {
                image.statics += section.size();
            }
        }
        for symbol in file.symbols() {
            let Ok(name) = symbol.name() else { continue };
            match name.get(..2) {
                Some("$t") => drop(image.marks.insert(narrow(symbol.address()), true)),
                Some("$d") => drop(image.marks.insert(narrow(symbol.address()), false)),
                _ if symbol.kind() == SymbolKind::Text && symbol.is_definition() => {
                    // The lowest bit says that the code is Thumb, which all of it is.
                    let address = narrow(symbol.address()) & !1;
                    let end = address + narrow(symbol.size());
                    let name = format!("{:#}", rustc_demangle::demangle(name));
                    image.functions.entry(address).or_insert(Function { name, address, end });
                }
                _ => {}
            }
        }
        if image.functions.is_empty() {
            return Err(ImageError::NoFunctions);
        }
        Ok(image)
    }

    /// The function of that name.
    #[must_use]
    pub fn function(&self, name: &str) -> Option<&Function> {
        self.functions.values().find(|function| function.name == name)
    }

    /// The half word of code at an address; nothing where data lies between the code.
    #[must_use]
    pub fn code(&self, address: u32) -> Option<u16> {
        let in_data = self.marks.range(..=address).next_back().is_some_and(|(_, is_code)| !is_code);
        if in_data { None } else { self.bytes(address).map(u16::from_le_bytes) }
    }

    /// The word at an address.
    #[must_use]
    pub fn word(&self, address: u32) -> Option<u32> {
        self.bytes(address).map(u32::from_le_bytes)
    }

    fn bytes<const N: usize>(&self, address: u32) -> Option<[u8; N]> {
        let (start, section) = self.sections.range(..=address).next_back()?;
        let at = usize::try_from(address - start).ok()?;
        section.get(at..at.checked_add(N)?)?.try_into().ok()
    }
}

/// Addresses and sizes of a 32-bit file.
fn narrow(value: u64) -> u32 {
    u32::try_from(value).unwrap_or(u32::MAX)
}
