//! The two speeds, and the lengths that separate pulses at each.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use crate::lengths::{PRESENCE_NS, RESET_NS, ZERO_NS};

/// How fast a transaction goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Speed {
    /// Standard speed, all that most parts have.
    #[default]
    Standard,
    /// Overdrive, of parts that have it, after a command that selects it.
    Overdrive,
}

/// Lengths that separate one kind of pulse from another. Those between two limits are half-way, since a pulse in between breaks both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Lengths {
    /// Resets from here on.
    pub(super) reset_ns: u64,
    /// Written zeros from here on.
    pub(super) zero_ns: u64,
    /// Where nothing is to be written, zeros from here on are the master's: no sensor holds a slot for longer than tRDV and 45 us
    /// (DS2417 datasheet, notes to the AC table; at overdrive speed tRDV and 4 us, DS1996 datasheet), with room for the steps of a
    /// capture.
    pub(super) masters_zero_ns: u64,
    /// Presence pulses begin no later after the release, with a quarter more than tPDHIGH for slow lines. Nothing else does.
    pub(super) presence_begins_ns: u64,
    /// None begins after this, however late it is: tPDHIGH and tPDLOW at most, together, when the last one is over.
    pub(super) presence_until_ns: u64,
    /// Nothing shorter is taken for a presence pulse that begins late.
    pub(super) presence_ns: u64,
    /// Nor, where only presence pulses begin, for one at all: a quarter of tPDLOW at least.
    pub(super) short_presence_ns: u64,
    /// No slot is longer: tLOW0 at most, with room for the steps of a capture.
    pub(super) longest_slot_ns: u64,
}

/// From DS18B20 datasheet (7/19), AC table: tLOW0 at most 120 us, tPDHIGH 15 to 60 us, tPDLOW 60 to 240 us.
const STANDARD: Lengths = Lengths {
    reset_ns: RESET_NS,
    zero_ns: ZERO_NS,
    masters_zero_ns: 62_500,
    presence_begins_ns: 75_000,
    presence_until_ns: 300_000,
    presence_ns: PRESENCE_NS,
    short_presence_ns: 15_000,
    longest_slot_ns: 125_000,
};

/// From the DS1996 datasheet: tLOW1 at most 2 us, tLOW0 6 to 16 us; and the DS28EC20
/// datasheet: tRSTL at least 48 us, tPDH 2 to 6 us, tPDL 8 to 24 us.
const OVERDRIVE: Lengths = Lengths {
    reset_ns: 32_000,
    zero_ns: 4_000,
    masters_zero_ns: 6_500,
    presence_begins_ns: 7_500,
    presence_until_ns: 30_000,
    presence_ns: 5_000,
    short_presence_ns: 2_000,
    longest_slot_ns: 17_000,
};

impl Speed {
    pub(super) const fn lengths(self) -> &'static Lengths {
        match self {
            Self::Standard => &STANDARD,
            Self::Overdrive => &OVERDRIVE,
        }
    }
}
