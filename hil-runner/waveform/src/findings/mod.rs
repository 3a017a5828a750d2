//! What was done on a line that should not be done, and what came back that should not come back.
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
