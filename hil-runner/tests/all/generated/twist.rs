//! What is different in a capture, once.

/// What is twisted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Twist {
    ResetLow(u64),
    ResetHigh(u64),
    /// The line is released again and again while the reset lasts: a high of so long in its low.
    ResetRinging(u64),
    PresenceAfter(u64),
    PresenceLow(u64),
    PresenceRinging(u64),
    NoPresence,
    ZeroLow(u64),
    OneLow(u64),
    ReadOneLow(u64),
    ReadZeroLow(u64),
    /// From falling edge to falling edge, of a slot that is short enough.
    Slot(u64),
    /// High after a slot.
    Recovery(u64),
    /// A pulse so long in the middle of the high after a slot.
    Noise(u64),
    /// A high so long in a written zero.
    ZeroRinging(u64),
    /// A high so long in a zero that is read.
    ReadRinging(u64),
    /// A bit of an answer that is read the other way round.
    ReadFlip,
}

/// A twist that waits for its turn.
#[derive(Clone, Copy, Debug)]
pub struct Waiting {
    pub twist: Twist,
    /// How many opportunities pass first.
    pub left: u64,
    /// How many there were.
    pub seen: u64,
}
