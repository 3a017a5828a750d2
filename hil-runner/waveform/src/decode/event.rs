//! What the decoder finds.

use super::{Speed, Transaction};
use crate::pulse::Pulse;

/// Who decides what a slot carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The master writes.
    Write,
    /// The master reads; a sensor may hold the line.
    Read,
    /// Nothing is due here.
    Unknown,
}

/// A slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Slot {
    /// When it fell, and when it rose.
    pub pulse: Pulse,
    /// Its bit.
    pub bit: bool,
    /// Who decides it.
    pub role: Role,
    /// Its speed.
    pub speed: Speed,
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Event {
    /// A reset pulse.
    Reset {
        /// When it fell, and when it rose.
        pulse: Pulse,
        /// Its speed.
        speed: Speed,
    },
    /// The presence pulse that answers it.
    Presence {
        /// When it fell, and when it rose.
        pulse: Pulse,
        /// From the rise after the reset to its fall.
        after_ns: u64,
        /// The speed of the reset.
        speed: Speed,
    },
    /// A slot.
    Slot(Slot),
    /// A reset pulse that had begun before the capture did.
    Opening(Pulse),
    /// A pulse that no party sends at its time.
    Stray(Pulse),
    /// The line was high for a moment in the middle of a low.
    Ringing {
        /// Since when.
        at_ns: u64,
        /// How long.
        high_ns: u64,
    },
    /// The line was low for longer than any reset.
    Low(Pulse),
    /// Pulses were added or are missing in the transaction that follows, and it is not clear which.
    Unclear {
        /// Where that shows first.
        at_ns: u64,
    },
    /// Edges may be missing.
    Lost,
    /// A transaction is over. Comes before the reset of the next.
    Transaction(Box<Transaction>),
}
