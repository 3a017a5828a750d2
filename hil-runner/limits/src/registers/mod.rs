//! What the nine bytes of a scratchpad may be, and the number that belongs to them, by the figures and tables of the datasheets.
//!
//! The decoder of whatever judges. Nothing here calls the driver's decoding, CRC or limits.

mod check_byte;
mod number;
mod register;

pub use check_byte::residue;
pub use number::{Source, Truth};
pub use register::{Registers, Unsound};
