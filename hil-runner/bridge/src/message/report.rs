//! What was measured of the line while a request was carried out.

use serde::{Deserialize, Serialize};

/// The line during one request. Times are those of the bridge's clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineReport {
    /// When the request began, in microseconds since the bridge started.
    pub at_us: u64,
    /// How long it took.
    pub spent_us: u64,
    /// Reset pulses sent.
    pub resets: u32,
    /// Time slots sent.
    pub slots: u32,
    /// The line at the end of the request. `None` where the master cannot sample it.
    pub idle: Option<Level>,
    /// From the release of a reset pulse to the first sample that found the line high: too long by up to the grain.
    pub rise: Option<Spread>,
    /// From there to the first presence pulse.
    pub presence_delay: Option<Spread>,
    /// From the beginning of the first presence pulse to the end of the last.
    pub presence_width: Option<Spread>,
    /// Longest time between two samples while watching: by so much each of these times may be too long, and all but the rise too
    /// short. 0 from a clock that knows when the line changed.
    pub grain_ns: u32,
}

/// A level of the line, as the bridge's input sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Level {
    /// Below the threshold.
    Low,
    /// Above it.
    High,
}

/// Least and most of several measurements.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Spread {
    /// The least.
    pub least_ns: u32,
    /// The most.
    pub most_ns: u32,
}

impl Spread {
    /// Of one measurement.
    #[must_use]
    pub const fn of(ns: u32) -> Self {
        Self { least_ns: ns, most_ns: ns }
    }

    /// Of these and those.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self { least_ns: self.least_ns.min(other.least_ns), most_ns: self.most_ns.max(other.most_ns) }
    }
}
