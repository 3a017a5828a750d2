//! The images that the program carries with it, so that a bench machine needs no cross toolchain.

use std::borrow::Cow;
use std::path::Path;

use super::error::ImageError;
use super::image::Image;

/// Bytes where an ELF file may lie in memory: its headers are read in place.
#[repr(align(8))]
struct Aligned<T: ?Sized>(T);

static STM32F103: &Aligned<[u8]> = &Aligned(*include_bytes!("../../../bridge/firmware/images/stm32f103.elf"));
static NRF52833: &Aligned<[u8]> = &Aligned(*include_bytes!("../../../bridge/firmware/images/nrf52833.elf"));
static RP2040: &Aligned<[u8]> = &Aligned(*include_bytes!("../../../bridge/firmware/images/rp2040.elf"));

/// Family and ELF file. `cargo checks` builds them anew and compares.
static FILES: [(&str, &Aligned<[u8]>); 3] = [("STM32F103", STM32F103), ("NRF52833", NRF52833), ("RP2040", RP2040)];

/// The image from this file, or the one that comes with the tool for this chip.
///
/// # Errors
/// [`ImageError`] if there is none, or the file is none.
pub fn chosen_image(file: Option<&Path>, chip: &str) -> Result<Image, ImageError> {
    file.map_or_else(|| packed_image(chip), Image::load)
}

/// The image for a chip.
///
/// # Errors
/// [`ImageError`] if there is none.
pub fn packed_image(chip: &str) -> Result<Image, ImageError> {
    let wanted = chip.to_ascii_uppercase();
    let Some((family, elf)) = FILES.iter().find(|(family, _)| wanted.starts_with(family)) else {
        let known = FILES.map(|(family, _)| family).join(", ");
        return Err(ImageError::NonePacked { chip: chip.to_owned(), known });
    };
    Image::parse(format!("the packed image for {family}"), Cow::Borrowed(&elf.0))
}
