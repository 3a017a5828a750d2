//! A rig in virtual time: the driver under test on `PinLine`, on the pins of a `slotwise-virtual-line`.

mod build;
mod controls;
mod driver;
mod faults;
#[cfg(test)]
mod tests;

pub use build::{OpenError, Tracing, open_virtual};
