//! The polling loop of a listener.

use super::encode::{Encoder, Lost, Room};
use super::unit_ticks;
use crate::port::{Input, Moment};

/// Most edges in one poll.
const MOST_EDGES: u32 = 1_000;

/// Listens to a pin that is an input: it has no way to drive.
#[derive(Clone, Debug)]
pub struct Listener {
    encoder: Encoder,
    high: bool,
    /// When the last record was written, and how long a quiet stretch may be.
    last: u32,
    longest_quiet: u32,
    /// When the line last changed, and after which time without a change the core may do something else: longer than any slot and any
    /// presence pulse.
    fell_or_rose: u32,
    still: u32,
    sampled: u32,
}

impl Listener {
    /// A listener at a core clock of `hz`; it writes the beginning of the stream, or gives `None` where there is no room for it.
    pub fn begin(hz: u32, input: &mut impl Input, room: &mut impl Room) -> Option<Self> {
        let mut encoder = Encoder::new(unit_ticks(hz));
        let (high, now) = (!input.is_low(), input.ticks());
        // A quarter of a second, so that the host knows that it still listens.
        encoder.begin(now, high, room).then_some(Self {
            encoder,
            high,
            last: now,
            longest_quiet: hz / 4,
            fell_or_rose: now,
            still: hz / 4_000,
            sampled: now,
        })
    }

    /// Samples the pin until it has not changed for some samples ([`Input::SAMPLES`]). To be called without a pause; a pulse between
    /// two samples is not seen.
    #[inline]
    pub fn poll<I: Input>(&mut self, input: &mut I, room: &mut impl Room) -> Moment {
        // A line that changes without an end is left now and then, for the watchdog.
        for _ in 0..MOST_EDGES {
            let was_low = !self.high;
            if (0..I::SAMPLES).all(|_| input.is_low() == was_low) {
                break;
            }
            let now = input.ticks();
            self.high = was_low;
            (self.last, self.sampled, self.fell_or_rose) = (now, now, now);
            self.encoder.edge(now, was_low, room);
        }
        let now = input.ticks();
        self.sampled = now;
        if now.wrapping_sub(self.last) >= self.longest_quiet {
            self.last = now;
            self.encoder.quiet(now, room);
        }
        if now.wrapping_sub(self.fell_or_rose) >= self.still { Moment::Idle } else { Moment::Busy }
    }

    /// The core did something else since the last sample: a gap of no known edges.
    pub fn was_away(&mut self, input: &mut impl Input, room: &mut impl Room) {
        let high = !input.is_low();
        let now = input.ticks();
        if high != self.high {
            self.high = high;
            self.fell_or_rose = now;
        }
        self.last = now;
        self.encoder.unseen(self.sampled, now, high, room);
    }

    /// What was lost so far.
    #[must_use]
    pub const fn lost(&self) -> Lost {
        self.encoder.lost()
    }

    /// Whether the line is high, as of the last sample.
    #[must_use]
    pub const fn is_high(&self) -> bool {
        self.high
    }
}
