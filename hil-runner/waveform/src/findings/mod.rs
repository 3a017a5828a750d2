//! Findings on a capture: commands that the datasheets forbid, and answers that they do not allow.
//!
//! `watch` follows the transactions and knows what each sensor must hold by now; the other files each judge one thing. What was not
//! in the capture is not known, so nothing is said that depends on it.

mod commands;
mod conversion;
mod eeprom;
mod known;
mod model;
mod power;
mod presence;
mod registers;
mod rom;
mod scratchpad;
mod searches;
mod settings;
mod timing;
mod watch;

pub use known::SensorReport;
pub use model::{Cause, Finding, Findings, Topic, Weight};
pub use watch::Watch;
