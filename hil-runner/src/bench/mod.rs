//! What a scenario can ask of a rig, and the rigs that answer.
//!
//! [`Bench`] is the seam between a run and a rig. Its requests are at the level of the driver's operations and, like the
//! replies, plain data: a rig may answer them in this process, or pass them on to a chip on which the driver runs.
//! [`open`] makes the one that a rig's file describes.

mod ask;
mod driver_errors;
mod open;
mod reply;
mod through_driver;
mod trouble;
mod virtual_line;

#[cfg(test)]
pub(crate) mod ideal;

pub use ask::Bench;
pub use open::open;
pub use reply::{Busy, Converted, Extent, Found, Pace, Sample};
pub use trouble::{Failure, Trouble, WaveformError};
pub use virtual_line::{OpenError, Tracing};
