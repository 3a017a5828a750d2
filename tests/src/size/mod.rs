//! What the driver's read path costs on the smallest chip, read off a linked image: flash, statics, stack and panics.

mod image;
mod measure;
mod stack;
mod thumb;

pub use image::{Function, Image, ImageError};
pub use measure::{Figures, MeasureError, measure};
pub use stack::{Deepest, StackError, deepest};
pub use thumb::{Effect, Instruction, decode};

#[cfg(test)]
mod handmade;
