//! What a scenario can ask of a rig, and the rigs that answer.
//!
//! [`Bench`] is the seam between a run and a rig. Its requests are at the level of the driver's operations. One bench serves all
//! rigs: it asks a bridge over a [`link`], be it a chip, an emulated one, or the bridge's own service in this process, and has
//! [`Hands`] for what is done to the rig itself. [`open`] makes the one that a rig's file describes.

#![allow(missing_docs)]

#[cfg(feature = "serial")]
mod adapter;
mod ask;
mod bridge;
pub mod debug_probe;
#[cfg(feature = "emulated")]
mod emulated;
mod hands;
pub mod link;
mod open;
mod operator;
#[cfg(any(feature = "debug-probe", feature = "serial"))]
mod real;
mod reply;
#[cfg(feature = "serial")]
mod serial;
mod virtual_line;
mod waveform;

#[cfg(any(test, feature = "for-tests"))]
pub mod ideal;
#[cfg(any(test, feature = "for-tests"))]
pub mod inside;

pub use ask::Bench;
pub use debug_probe::Flashed;
#[cfg(feature = "emulated")]
pub use emulated::{EmulatedChip, FurtherChip, FurtherChips, ResetBy, Trip, open_emulated, open_emulated_with};
pub use hands::Hands;
pub use open::{OpenError, Outside, flash_bridge, needed_part, open};
pub use operator::{Answered, Operator};
pub use reply::{Extent, Pace, SearchOutcome};
#[cfg(feature = "serial")]
pub use serial::PortError;
pub use virtual_line::Tracing;
pub use waveform::WaveformError;
