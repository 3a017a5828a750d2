//! The limits of the datasheets: the one place on the host where they are typed.
//!
//! Edges of a pin ([`edges`]), captures of a line (package `slotwise-waveform`) and studies judge by
//! them. Driver and virtual line keep limits of their own; a test holds all of them against the golden table.

pub mod edges;
pub mod figures;
mod masters;
mod model;
mod parameter;
pub mod registers;
mod sensors;

pub use masters::Limits;
pub use model::{Basis, Limit, Reach, Side, Window};
pub use parameter::Parameter;
pub use sensors::{at_least, presence_delay, presence_low, read_low, read_zero_low, within};
