//! A captured waveform of a line: decoded down to its transactions, and judged.
//!
//! ```text
//! capture ── pulse ── decode ──┬── timing     each time against the limits of the datasheets
//!  (VCD)                       ├── findings   commands that the datasheets forbid, and wrong answers
//!                              └── replay     the line once more, for the real driver
//!            analyse, report: all of it in one pass, in constant memory
//! ```
//!
//! A capture shows a line and not who pulls it: what a pulse is, and whose, follows from its length and from what is due.

mod analyse;
pub mod capture;
pub mod decode;
mod excerpt;
mod facts;
mod findings;
mod judge;
mod lengths;
mod levels;
#[cfg(any(test, feature = "for-tests"))]
pub mod paint;
mod pipe;
mod pulse;
mod reads;
pub mod replay;
mod report;
mod rom;
mod scratchpad;
mod source;
pub mod timing;
mod unjudged;
mod who;

#[cfg(test)]
mod tests;

pub use analyse::{analyse, analyse_while, judge_edges, judge_vcd};
pub use excerpt::{Excerpt, excerpts};
pub use facts::Facts;
pub use findings::{Cause, Finding, SensorReport, Topic, Weight};
pub use judge::CaptureJudge;
pub use levels::Levels;
pub use pulse::Pulse;
pub use report::{Activity, Outcome, WaveformLine, WaveformReport};
pub use source::{ChooseError, Chosen, SourceError, WaveformSource};
pub use unjudged::{Unjudged, UnjudgedWhat};
