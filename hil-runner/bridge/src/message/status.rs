//! Why the chip started, why there is no session, and the times and bounds of both ends.

use serde::{Deserialize, Serialize};

/// Why the chip was last reset.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ResetCause {
    /// The chip does not say.
    Unknown,
    /// Its supply was switched on, or returned.
    Power,
    /// Its reset pin was pulled.
    Pin,
    /// Its watchdog was not served in time: the firmware hung.
    Watchdog,
    /// Software requested it, or a debug probe.
    Software,
    /// The firmware could not go on and started itself again.
    Panic,
    /// The core met a fault.
    Fault,
}

impl ResetCause {
    /// In a few words, after "reset by".
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Unknown => "a cause that the chip does not name",
            Self::Power => "a loss of power",
            Self::Pin => "its reset pin",
            Self::Watchdog => "its watchdog: the firmware hung",
            Self::Software => "software or a debug probe",
            Self::Panic => "a panic of the firmware",
            Self::Fault => "a fault of the core",
        }
    }
}

/// Why there is no session of this number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum NoSession {
    /// There was none since the last reset, which had this cause.
    Reset(ResetCause),
    /// Another session took its place.
    TakenOver,
    /// The host gave no sign of life for [`DEAD_MAN_MS`]; the switches were opened.
    HostGone,
}

/// A host without a sign of life for longer is gone, in milliseconds. Chosen: longer than a loaded host pauses, shorter than it
/// takes anyone to wonder why a line is still shorted.
pub const DEAD_MAN_MS: u32 = 10_000;
/// A host that has nothing to ask shows at least this often that it is there, in milliseconds: several times before it counts as gone.
pub const LIFE_EVERY_MS: u32 = 2_000;
/// The most that `max_us` of a request may be. Chosen: more than twice the longest conversion of any part (750 ms, DS18B20 datasheet
/// (7/19), AC table, tCONV).
pub const MOST_CONVERSION_US: u32 = 2_000_000;

const _: () = assert!(DEAD_MAN_MS >= 3 * LIFE_EVERY_MS && MOST_CONVERSION_US / 1_000 < DEAD_MAN_MS);
