//! The same line as on a virtual rig, on the pins of an emulated chip that runs the firmware: flashed, started and talked to as a
//! real one, by an emulated debug probe.

mod chip;
mod hands;
mod open;

pub use open::{EmulatedChip, ResetBy, Trip, open_emulated};
