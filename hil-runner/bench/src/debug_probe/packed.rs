//! The images that the program carries with it, so that a bench machine needs no cross toolchain.

use std::borrow::Cow;
use std::path::Path;

use super::error::ImageError;
use super::identity::Role;
use super::image::Image;

/// Bytes where an ELF file may lie in memory: its headers are read in place.
#[repr(align(8))]
struct Aligned<T: ?Sized>(T);

/// A file among the packed images.
macro_rules! packed {
    ($file:literal) => {{
        static ELF: &Aligned<[u8]> = &Aligned(*include_bytes!(concat!("../../../bridge/firmware/images/", $file)));
        ELF
    }};
}

/// Family, and the ELF files of its master and of its player. `cargo checks` builds them anew and compares.
static FILES: [(&str, [&Aligned<[u8]>; 2]); 3] = [
    ("STM32F103", [packed!("stm32f103.elf"), packed!("stm32f103-player.elf")]),
    ("NRF52833", [packed!("nrf52833.elf"), packed!("nrf52833-player.elf")]),
    ("RP2040", [packed!("rp2040.elf"), packed!("rp2040-player.elf")]),
];

/// The image from this file, or the one that comes with the tool for this chip.
///
/// # Errors
/// [`ImageError`] if there is none, or the file is none.
pub fn chosen_image(file: Option<&Path>, chip: &str) -> Result<Image, ImageError> {
    file.map_or_else(|| packed_image(chip), Image::load)
}

/// The image of the master for a chip.
///
/// # Errors
/// [`ImageError`] if there is none.
pub fn packed_image(chip: &str) -> Result<Image, ImageError> {
    packed(chip, Role::Master)
}

/// The image for a chip that plays sensors and listens.
///
/// # Errors
/// [`ImageError`] if there is none.
pub fn packed_player(chip: &str) -> Result<Image, ImageError> {
    packed(chip, Role::Player)
}

fn packed(chip: &str, role: Role) -> Result<Image, ImageError> {
    let wanted = chip.to_ascii_uppercase();
    let Some((family, [master, player])) = FILES.iter().find(|(family, _)| wanted.starts_with(family)) else {
        let known = FILES.map(|(family, _)| family).join(", ");
        return Err(ImageError::NonePacked { chip: chip.to_owned(), known });
    };
    let (what, elf) = match role {
        Role::Master => ("image", master),
        Role::Player => ("player image", player),
    };
    Image::parse(format!("the packed {what} for {family}"), Cow::Borrowed(&elf.0))
}
