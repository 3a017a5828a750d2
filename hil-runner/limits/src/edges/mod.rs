//! Whether the master keeps the times that the datasheets ask of it, edge by edge, and how near it comes to their limits.
//!
//! [`EdgeJudge`] takes what the master does to its pin as a stream, in constant memory: it can watch for as long as a run
//! lasts. It knows the datasheets only, and nothing of the driver's timing sets.
//!
//! ```text
//!           tRSTL      tRSTH, looks for presence      tLOW1            tSLOT + tREC
//! pin ──┐          ┌──────────────────────────────┐ tINT ┌────────────────────────┐ tLOW0   ┌─ tREC ─┐
//!       └──────────┘     ^  ^  ^  ^               └──────┘  ^ look (tRDV)         └─────────┘        └
//! switch                                                                            tSPON    ┌────────
//!                                                                                   ─────────┘
//! ```
//!
//! The pin is all that is seen: that the line rises later than the pin is let go is no part of these times.

mod presence;
mod record;
mod report;
mod state;
mod tally;

#[cfg(test)]
mod tests;

pub use record::{EdgeClock, EdgeRecord};
pub use report::{EdgeReport, Looks, Nearest, ParameterReport, Pulses, Seen, Unclear, VIOLATIONS_KEPT, Violation};
pub use state::{Edge, EdgeJudge};
