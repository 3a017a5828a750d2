//! What each pulse is: a reset, a presence pulse, a slot, or none of these.

use super::Speed;
use crate::lengths::SHORT_NS;
use crate::pulse::{Pulse, SPIKE_NS};

/// What a pulse is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// A reset at this speed.
    Reset(Speed),
    /// The presence pulse that answers the last reset.
    Presence,
    /// A slot.
    Slot,
    /// Something that no party sends at this time.
    Stray,
    /// A line that is low for longer than any reset.
    Low,
}

/// The last reset, while a presence pulse may follow it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Answerable {
    rose_ns: u64,
    is_answered: bool,
}

/// What is remembered to classify pulses.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Framer {
    reset: Option<Answerable>,
}

/// A pulse that begins when presence pulses do and is too short for a legal reset is a presence pulse that is far too long: tRSTL at
/// least 480 us (DS18B20 datasheet (7/19), AC table).
const SHORTEST_RESET_NS: u64 = 480_000;

impl Framer {
    /// What this pulse is at this speed.
    pub(super) fn classify(&mut self, pulse: Pulse, speed: Speed) -> Kind {
        let lengths = speed.lengths();
        let low_ns = pulse.low_ns();
        if low_ns < SPIKE_NS {
            return Kind::Stray;
        }
        if low_ns >= SHORT_NS {
            // Sensors that were without supply answer it like a reset.
            self.reset_at(pulse);
            return Kind::Low;
        }
        let after_reset = self.reset.map(|reset| (pulse.fell_ns.saturating_sub(reset.rose_ns), reset.is_answered));
        if let Some((after_ns, false)) = after_reset
            && speed == Speed::Standard
            && after_ns <= lengths.presence_begins_ns
            && (lengths.reset_ns..SHORTEST_RESET_NS).contains(&low_ns)
        {
            return self.answered();
        }
        if low_ns >= Speed::Standard.lengths().reset_ns {
            return self.reset(pulse, Speed::Standard);
        }
        if low_ns >= lengths.reset_ns {
            return self.reset(pulse, speed);
        }
        match after_reset {
            // Where only presence pulses begin, a short one is one too.
            Some((after_ns, false))
                if after_ns <= lengths.presence_begins_ns && low_ns >= lengths.short_presence_ns =>
            {
                self.answered()
            }
            Some((after_ns, _)) if after_ns <= lengths.presence_begins_ns => Kind::Stray,
            _ => Kind::Slot,
        }
    }

    fn answered(&mut self) -> Kind {
        if let Some(reset) = &mut self.reset {
            reset.is_answered = true;
        }
        Kind::Presence
    }

    fn reset(&mut self, pulse: Pulse, speed: Speed) -> Kind {
        self.reset_at(pulse);
        Kind::Reset(speed)
    }

    /// This pulse is a reset, whatever its length says.
    pub(super) const fn reset_at(&mut self, pulse: Pulse) {
        self.reset = Some(Answerable { rose_ns: pulse.rose_ns, is_answered: false });
    }

    /// When the line was released after the last reset, if this comes when nothing does: a presence pulse that begins late, noise, or a slot
    /// of a master that does not wait.
    pub(super) fn may_be_late(&self, pulse: Pulse, speed: Speed) -> Option<u64> {
        let lengths = speed.lengths();
        // Once it was answered, nothing but what follows says whether this is a slot.
        let rose_ns = self.reset.filter(|reset| !reset.is_answered)?.rose_ns;
        let after_ns = pulse.fell_ns.saturating_sub(rose_ns);
        let is_then = after_ns > lengths.presence_begins_ns && after_ns < lengths.presence_until_ns;
        (is_then && pulse.low_ns() < lengths.reset_ns).then_some(rose_ns)
    }

    /// Whether this pulse, which is no slot, answers the last reset, however late.
    pub(super) fn answers(&mut self, pulse: Pulse, speed: Speed) -> bool {
        let does = pulse.low_ns() >= speed.lengths().presence_ns && self.reset.is_some_and(|reset| !reset.is_answered);
        if does {
            self.answered();
        }
        does
    }

    /// Whether a pulse of the length of this one would answer the last reset.
    pub(super) fn is_answer(&self, pulse: Pulse) -> bool {
        self.reset.is_some_and(|reset| {
            !reset.is_answered
                && pulse.fell_ns.saturating_sub(reset.rose_ns) <= Speed::Standard.lengths().presence_begins_ns
        })
    }

    /// Whether the last reset may still be answered, after nothing but it.
    pub(super) fn may_be_answered(&self, at_ns: u64, speed: Speed) -> bool {
        self.reset.is_some_and(|reset| {
            !reset.is_answered && at_ns.saturating_sub(reset.rose_ns) < speed.lengths().presence_until_ns
        })
    }

    /// Edges may be missing.
    pub(super) const fn lose(&mut self) {
        self.reset = None;
    }
}
