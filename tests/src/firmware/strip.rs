//! What is packed: the linked image without the symbols that nothing reads, whose names depend on the build folder.

use object::build::elf::Builder;
use object::elf::STB_GLOBAL;
use thiserror::Error;

/// Why an image cannot be rewritten.
#[derive(Debug, Error)]
#[error("the image cannot be rewritten")]
pub struct StripError(#[from] object::build::Error);

/// The image with global names only, among them the control block of the channels, the entry of the service, and the texts of
/// the log. Names that a compiler has mangled go: they hold a number that depends on the folder of the build.
///
/// # Errors
///
/// When it is no ELF file.
pub fn stripped(elf: &[u8]) -> Result<Vec<u8>, StripError> {
    let mut builder = Builder::read32(elf)?;
    let log = builder.sections.iter().find(|section| &section.name[..] == b".defmt").map(|section| section.id());
    for symbol in &mut builder.symbols {
        let is_mangled = symbol.name.starts_with(b"_ZN") || symbol.name.starts_with(b"_R");
        let is_global = symbol.st_bind() == STB_GLOBAL && !is_mangled;
        let is_log = log.is_some() && symbol.section == log;
        symbol.delete = !(is_global || is_log);
    }
    let mut stripped = Vec::new();
    builder.write(&mut stripped)?;
    Ok(stripped)
}
