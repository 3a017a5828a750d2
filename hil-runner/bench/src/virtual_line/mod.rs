//! A line in virtual time: built from the file of a rig, taken hold of, and served by the bridge's own service in this process.

mod build;
mod faults;
mod hands;
mod on_line;
mod service;

#[cfg(test)]
mod tests;

#[cfg(any(test, feature = "emulated", feature = "for-tests"))]
pub use build::build_line;
pub use build::{LineProblem, Tracing, open_virtual};
#[cfg(any(test, feature = "emulated", feature = "for-tests"))]
pub use on_line::OnLine;
#[cfg(feature = "emulated")]
pub use on_line::{line_changes, write_waveform};
#[cfg(any(test, feature = "emulated", feature = "for-tests"))]
pub use {hands::VirtualHands, service::in_process};
