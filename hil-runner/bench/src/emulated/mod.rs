//! The same line as on a virtual rig, on the pins of an emulated chip that runs the firmware: flashed, started and talked to as a
//! real one, by an emulated debug probe.

mod chip;
mod further;
mod hands;
mod open;
#[cfg(test)]
mod paired;
#[cfg(test)]
mod played;
#[cfg(test)]
mod tests;

pub use further::{FurtherChip, FurtherChips};
pub use open::{EmulatedChip, ResetBy, Trip, open_emulated, open_emulated_with};
