//! The pin as player and listener see it, and what a sample leaves time for.

/// A pin as an input, and the counter.
pub trait Input {
    /// How many samples of an unchanged line [`Player::poll`](crate::Player::poll) and a listener take before they do anything
    /// else. A pin whose time passes by itself needs some tens, so that most samples are as close together as they can be; where time passes between two polls, 1.
    const SAMPLES: u32 = 1;

    /// Whether the line is low.
    fn is_low(&mut self) -> bool;
    /// The counter, which wraps.
    fn ticks(&mut self) -> u32;
}

/// The pin as an open drain: it is low or released, never high.
pub trait Port: Input {
    /// Pulls the line low.
    fn drive_low(&mut self);
    /// Lets go of the line.
    fn release(&mut self);
}

/// Longest time that the core may do something else in a [`Moment`] that is not busy, in microseconds. A falling edge that is found late is
/// then taken to be as old as the sample before, which is at most so much too old: with the longest 0 it stays under a typical reset
/// detection.
pub const AWAY_US: u32 = 250;

/// What a sample found: whether there is time for something else.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// The next sample is due at once.
    Busy,
    /// The line is high and no slot concerns the sensors, or it has not changed for 2 ms. Time for [`AWAY_US`]; say so by
    /// [`Player::was_away`](crate::Player::was_away).
    Idle,
    /// The line is low in a reset that goes on for [`AWAY_US`] or longer.
    Reset,
}

/// Whether the line falls within some samples.
#[inline(always)]
pub(crate) fn falls<P: Port>(port: &mut P) -> bool {
    (0..P::SAMPLES).any(|_| port.is_low())
}
