//! The health of a line: what can be measured of it, what follows by its resistor and capacitance, and what to do about it.
//!
//! [`measure_line`] only reads: it searches, requests the power mode and reads scratchpads, and writes to no sensor. A plan needs
//! [`Numbers`] and no rig. [`LineStudy`] holds both, computed by the same formulas.

mod advice;
mod cable;
mod circuit;
mod error_rate;
pub mod figures;
mod filed;
mod findings;
mod margin;
mod margins;
mod measure;
mod measured;
mod model;
mod numbers;
mod pull_up;
mod remedy;
mod seen;
mod slots;

#[cfg(test)]
mod corner_tests;
#[cfg(test)]
mod measure_tests;
#[cfg(test)]
mod plan_tests;
#[cfg(test)]
mod rule_tests;

pub use advice::{LineAdvice, ParasiteAdvice, PullUpAdvice, Room};
pub use cable::{Estimate, Estimates, Threshold};
pub use circuit::Circuit;
pub use error_rate::ErrorRate;
pub use filed::Filed;
pub use findings::NotKnown;
pub use margin::{LineParameter, Margin, MarginBasis, MarginUnit};
pub use margins::{computed, value};
pub use measure::{LineOrder, LineStage, LineStop, measure_line};
pub use model::{LINE_STUDY_VERSION, LineStudy, StatedNumbers};
pub use numbers::{Numbers, StrongPullUp};
pub use pull_up::{PullUpSource, bought};
pub use remedy::Remedy;
pub use seen::{LineSeen, Pulse, SensorSeen};
pub use slots::{SlotTimes, SlotTiming};
