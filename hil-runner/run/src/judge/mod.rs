//! Verdicts: results held against expected numbers.
//!
//! Nothing here calls the driver's decoding, CRC or limits; only its plain types are used, to speak of what it said.
//! Expected numbers come from the published rows in `slotwise-golden`, from the bit weights that the datasheets draw, and
//! from the references that a scenario names.

mod conversion_time;
mod distance;
mod doubts;
mod expected;
mod fixed_point;
mod measurement;
mod set;
mod settings;
mod span;

#[cfg(test)]
mod corrected_tests;
#[cfg(test)]
mod tests;

pub use conversion_time::unwatched;
pub use fixed_point::{judge_at_fixed_point, judge_bath};
pub use measurement::{Judge, MeasuredSensor, Outcome};
pub use set::{SearchGoal, Tally};
pub use settings::{judge_held, judge_refusal, judge_saved, judge_settings, judge_writes};
