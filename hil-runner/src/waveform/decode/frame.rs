//! What each pulse is: a reset, a presence pulse, a slot, or none of these.

use super::Speed;
use super::speed::SPIKE_NS;
use crate::waveform::pulse::Pulse;

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
}

/// The last reset, while a presence pulse may follow it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Answerable {
    rose_ns: u64,
    is_answered: bool,
}

/// What is remembered to tell pulses apart.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Framer {
    reset: Option<Answerable>,
    /// The pulse before this one, while nothing is known of the line.
    before: Option<Pulse>,
}

/// A reset at overdrive speed, and what answers it (DS28EC20 datasheet: tRSTL 48 to 80 us, tPDH 2 to 6 us, tPDL 8 to 24 us). No two
/// slots of standard speed look like it: the second is no write-1, at most 15 us, and no zero.
const FAST_RESET_NS: std::ops::RangeInclusive<u64> = 48_000..=80_000;
const FAST_PRESENCE_AFTER_NS: std::ops::RangeInclusive<u64> = 2_000..=6_000;
const FAST_PRESENCE_NS: std::ops::RangeInclusive<u64> = 15_001..=24_000;

/// A pulse that is too short for a reset and begins when presence pulses do is one that is far too long: tRSTL at least 480 us,
/// tPDHIGH at most 60 us (DS18B20 datasheet (7/19), AC table), with a quarter more for slow lines.
const SHORTEST_RESET_NS: u64 = 480_000;
const PRESENCE_BEGINS_NS: u64 = 75_000;

impl Framer {
    /// What this pulse is at this speed.
    pub(super) fn classify(&mut self, pulse: Pulse, speed: Speed) -> Kind {
        let lengths = speed.lengths();
        let low_ns = pulse.low_ns();
        if low_ns < SPIKE_NS {
            return Kind::Stray;
        }
        if let Some(reset) = &mut self.reset
            && !reset.is_answered
            && speed == Speed::Standard
            && pulse.fell_ns.saturating_sub(reset.rose_ns) <= PRESENCE_BEGINS_NS
            && (lengths.reset_ns..SHORTEST_RESET_NS).contains(&low_ns)
        {
            reset.is_answered = true;
            return Kind::Presence;
        }
        if low_ns >= Speed::Standard.lengths().reset_ns {
            return self.reset(pulse, Speed::Standard);
        }
        if low_ns >= lengths.reset_ns {
            return self.reset(pulse, speed);
        }
        if let Some(reset) = &mut self.reset
            && pulse.fell_ns.saturating_sub(reset.rose_ns) < lengths.presence_until_ns
        {
            let is_presence = low_ns >= lengths.presence_ns && !reset.is_answered;
            reset.is_answered |= is_presence;
            return if is_presence { Kind::Presence } else { Kind::Stray };
        }
        Kind::Slot
    }

    fn reset(&mut self, pulse: Pulse, speed: Speed) -> Kind {
        self.reset = Some(Answerable { rose_ns: pulse.rose_ns, is_answered: false });
        Kind::Reset(speed)
    }

    /// Takes a pulse while no reset has been seen yet. If it answers the pulse before it as sensors at overdrive speed do, that one was
    /// a reset.
    pub(super) fn fast_reset(&mut self, pulse: Pulse) -> Option<Pulse> {
        let before = self.before.replace(pulse)?;
        let is_reset = FAST_RESET_NS.contains(&before.low_ns())
            && FAST_PRESENCE_AFTER_NS.contains(&pulse.fell_ns.saturating_sub(before.rose_ns))
            && FAST_PRESENCE_NS.contains(&pulse.low_ns());
        if is_reset {
            self.reset = Some(Answerable { rose_ns: before.rose_ns, is_answered: true });
        }
        is_reset.then_some(before)
    }

    /// Edges may be missing.
    pub(super) const fn lose(&mut self) {
        (self.reset, self.before) = (None, None);
    }
}
