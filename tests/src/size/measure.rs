//! The figures of an image: what it costs beyond an empty one, and whether it can panic.

use super::image::{Image, ImageError};
use super::stack::{Deepest, StackError, deepest};
use thiserror::Error;

/// The function of an image that only the panic handler calls.
const PANIC_MARK: &str = "panicked";
/// The start of the names of the library's functions that panic.
const PANICKING: &str = "core::panicking::";

/// What an image costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figures {
    /// Bytes of flash beyond the empty image.
    pub flash: u64,
    /// Bytes of statics.
    pub statics: u64,
    /// The deepest stack below the entry.
    pub stack: Deepest,
    /// The functions linked that panic.
    pub panics: Vec<String>,
}

/// Why there are no figures.
#[derive(Debug, Error)]
pub enum MeasureError {
    /// An image cannot be read.
    #[error(transparent)]
    Image(#[from] ImageError),
    /// The stack depth cannot be determined.
    #[error(transparent)]
    Stack(#[from] StackError),
    /// The image is smaller than the empty one: they were built in different ways.
    #[error("the image has {image} bytes of flash, the empty one {empty}")]
    Smaller {
        /// Of the image.
        image: u64,
        /// Of the empty one.
        empty: u64,
    },
}

/// Measures `image` against `empty`, a like image with nothing in it; the stack is that below `entry`.
///
/// # Errors
///
/// If the image cannot be read or its stack depth cannot be determined.
pub fn measure(image: &[u8], empty: &[u8], entry: &str) -> Result<Figures, MeasureError> {
    let image = Image::read(image)?;
    let empty = Image::read(empty)?;
    let stack = deepest(&image, entry)?;
    let flash = image.flash.checked_sub(empty.flash);
    let flash = flash.ok_or(MeasureError::Smaller { image: image.flash, empty: empty.flash })?;
    let names = image.functions.values().map(|function| function.name.as_str());
    let panics = names.filter(|name| *name == PANIC_MARK || name.starts_with(PANICKING)).map(str::to_owned).collect();
    Ok(Figures { flash, statics: image.statics, stack, panics })
}
