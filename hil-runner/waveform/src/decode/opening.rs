//! Pulses that their length does not identify: a reset that begins a capture or is too short, a presence pulse or noise before the first
//! slot. Only what follows them does.

use crate::decode::Speed;
use crate::lengths::RESET_NS;
use crate::pulse::Pulse;

/// What the first of some pulses is, by those that follow it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Opening {
    /// Nothing of that kind.
    None,
    /// More has to be seen.
    Open,
    /// A reset at overdrive speed, which a capture that begins there does not show. The next one is its presence pulse.
    Fast,
    /// A reset at standard speed that is far too short.
    Short,
    /// A presence pulse that comes late, or noise; no slot.
    Late,
}

/// A reset at overdrive speed, and what answers it (DS28EC20 datasheet: tRSTL 48 to 80 us, tPDH 2 to 6 us, tPDL 8 to 24 us).
const FAST_RESET_NS: std::ops::RangeInclusive<u64> = 48_000..=80_000;
const FAST_PRESENCE_AFTER_NS: std::ops::RangeInclusive<u64> = 2_000..=6_000;
const FAST_PRESENCE_NS: std::ops::RangeInclusive<u64> = 8_000..=28_000;
/// A write 0 and a read 0 of standard speed look the same; so it counts only if slots follow that are no longer than tLOW0 at overdrive
/// speed (DS1996 datasheet) and nearer to each other than tSLOT at standard speed (DS18B20 datasheet (7/19), AC table).
const FAST_SLOT_NS: u64 = 16_000;
const SLOT_NS: u64 = 60_000;

/// Longer than any slot, tLOW0 at most 120 us, with a quarter more, and shorter than what is a reset anyway.
const SHORT_RESET_NS: std::ops::Range<u64> = 150_000..RESET_NS;
/// What answers it: tPDHIGH 15 to 60 us with a quarter more for slow lines, tPDLOW 60 to 285 us of several sensors (the same table).
const PRESENCE_AFTER_NS: std::ops::RangeInclusive<u64> = 15_000..=75_000;
const PRESENCE_NS: std::ops::RangeInclusive<u64> = 60_000..=285_000;

/// A master waits for the end of tRSTH before it goes on, and one that does not writes its slots one soon after the other (DS18B20
/// datasheet (7/19), AC table: 480 us; a sixth less; DS28EC20 datasheet: as tRSTL, 48 us).
const WAITED_NS: (u64, u64) = (400_000, 40_000);
/// After a reset that is too short, some wait less: more than half of that is enough (chosen).
const SHORT_WAITED_NS: u64 = 250_000;
/// Its slots are as long as the table has them, tLOW1 at most 15 us or tLOW0 at least 60 us, with the steps of a capture; at overdrive
/// speed the two leave nothing between them.
const ONE_NS: u64 = 16_000;
const ZERO_NS: u64 = 59_000;

/// What a pulse is that comes late after a reset which was released then: a slot unless the master still waits.
pub(super) fn late(pulses: &[Pulse], released_ns: u64, speed: Speed) -> Opening {
    let (Some(first), Some(next)) = (pulses.first(), pulses.get(1)) else { return Opening::Open };
    let waits = |waited_ns| next.fell_ns.saturating_sub(released_ns) >= waited_ns;
    let is_late = match speed {
        Speed::Standard => waits(WAITED_NS.0) || (ONE_NS..ZERO_NS).contains(&first.low_ns()),
        Speed::Overdrive => waits(WAITED_NS.1),
    };
    if is_late { Opening::Late } else { Opening::None }
}

/// Whether a pulse may be one.
pub(super) fn may_open(pulse: Pulse, is_known: bool) -> bool {
    let low_ns = pulse.low_ns();
    SHORT_RESET_NS.contains(&low_ns) || !is_known && FAST_RESET_NS.contains(&low_ns)
}

/// What the first of these pulses is. `is_known`: a reset was seen before, so the speed is known.
pub(super) fn opening(pulses: &[Pulse], is_known: bool) -> Opening {
    let Some(first) = pulses.first().copied().filter(|first| may_open(*first, is_known)) else { return Opening::None };
    let Some(answer) = pulses.get(1) else { return Opening::Open };
    let after_ns = answer.fell_ns.saturating_sub(first.rose_ns);
    if SHORT_RESET_NS.contains(&first.low_ns()) {
        let is_answered = PRESENCE_AFTER_NS.contains(&after_ns) && PRESENCE_NS.contains(&answer.low_ns());
        if !is_answered {
            return Opening::None;
        }
        // A long slot and the next one may look the same, but no master that resets goes on at once.
        return match pulses.get(2) {
            None => Opening::Open,
            Some(third) if third.fell_ns.saturating_sub(first.rose_ns) < SHORT_WAITED_NS => Opening::None,
            Some(_) => Opening::Short,
        };
    }
    if !FAST_PRESENCE_AFTER_NS.contains(&after_ns) || !FAST_PRESENCE_NS.contains(&answer.low_ns()) {
        return Opening::None;
    }
    let slots = pulses.get(2..).unwrap_or_default();
    if slots.iter().any(|slot| slot.low_ns() > FAST_SLOT_NS) {
        return Opening::None;
    }
    match *slots {
        [one, next, ..] if next.fell_ns.saturating_sub(one.fell_ns) < SLOT_NS => Opening::Fast,
        [_, _, ..] => Opening::None,
        _ => Opening::Open,
    }
}
