//! A pin and a clock that measure the line while the driver uses them.
//!
//! The driver knows nothing of it. It sees a pin and a delay; behind both is a [`Watch`], which notes when the driver pulls the
//! line low and lets it go, and samples the line while the driver waits for presence pulses:
//!
//! ```text
//!            reset pulse            rise   delay    width
//! ‾‾‾‾‾‾‾‾\____________________...____/‾‾|‾‾‾‾‾‾\_________/‾‾‾‾‾‾‾
//!         |                          |   |      |         |
//!      pin low                release    threshold of the input
//! ```
//!
//! Nothing is sampled inside a slot: its times are the driver's, and are too short to watch on a slow chip.

mod clock;
mod meter;
mod pulses;
mod watched;

pub use clock::{Clock, LineSample, poll};
pub use meter::{Meter, SlotCounter};
pub use watched::{Watch, WatchedDelay, WatchedPin};

#[cfg(test)]
mod tests;
