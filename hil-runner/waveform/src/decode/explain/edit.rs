//! Other readings of the pulses of a transaction.

use super::super::{Decoder, Habits};
use crate::decode::{Event, Role, Speed};
use crate::pulse::Pulse;
use slotwise_limits::figures::{
    EDGE_TO_EDGE_LEAST_NS, READ_ZERO_LOW_MOST_NS, RECOVERY_LEAST_NS, WRITE_ONE_LOW_MOST_NS, WRITE_ZERO_LOW_LEAST_NS,
};

/// A change of what was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Edit {
    /// The pulse at this place was none of any party's.
    Drop(usize),
    /// The pulse at this place and the next are one, in the middle of which the line was high for a moment.
    Merge(usize),
    /// All pulses from this place on, so many, were none of any party's.
    DropFrom(usize, usize),
    /// The bit of the slot at this place is this one, whatever its length says.
    Force(usize, bool),
}

impl Edit {
    /// How much this change costs in the comparison.
    pub(super) const fn cost(self) -> u64 {
        match self {
            Self::DropFrom(_, count) => 15 + count as u64,
            Self::Drop(_) => 15,
            Self::Merge(_) => 12,
            Self::Force(..) => 8,
        }
    }
}

/// A reading of the pulses after a reset.
#[derive(Clone, Debug, Default)]
pub(super) struct Reading {
    pub(super) pulses: Vec<Pulse>,
    forced: Vec<(u64, bool)>,
    /// What was changed, to be reported.
    pub(super) changes: Vec<Event>,
    pub(super) cost: u64,
    /// Whether nothing but pulses after all was left out, or highs inside of a low.
    pub(super) is_sure: bool,
}

/// A high of so long is ringing, and no time between two slots: tREC is at least that.
pub(super) const RINGING_NS: u64 = RECOVERY_LEAST_NS;

/// So many places are tried.
const PLACES: usize = 24;

impl Reading {
    pub(super) fn new(pulses: Vec<Pulse>) -> Self {
        Self { pulses, is_sure: true, ..Self::default() }
    }

    /// The same with a change. None if it is not possible.
    pub(super) fn with(&self, edit: Edit) -> Option<Self> {
        let mut other = self.clone();
        match edit {
            Edit::Drop(place) => {
                let pulse = (place < other.pulses.len()).then(|| other.pulses.remove(place))?;
                other.is_sure &= place == other.pulses.len();
                other.changes.push(Event::Stray(pulse));
            }
            Edit::DropFrom(place, _) => {
                let dropped = other.pulses.split_off(place.min(other.pulses.len()));
                other.changes.extend(dropped.into_iter().map(Event::Stray));
            }
            Edit::Merge(place) => {
                let next = (place + 1 < other.pulses.len()).then(|| other.pulses.remove(place + 1))?;
                let pulse = other.pulses.get_mut(place)?;
                let high_ns = next.fell_ns.saturating_sub(pulse.rose_ns);
                other.changes.push(Event::Ringing { at_ns: pulse.rose_ns, high_ns });
                pulse.rose_ns = next.rose_ns;
            }
            Edit::Force(place, bit) => {
                let pulse = other.pulses.get(place)?;
                if other.forced.iter().any(|(fell_ns, _)| *fell_ns == pulse.fell_ns) {
                    return None;
                }
                other.is_sure = false;
                other.forced.push((pulse.fell_ns, bit));
            }
        }
        other.cost += edit.cost();
        Some(other)
    }

    /// What comes of it after this beginning, up to the end of the transaction.
    pub(super) fn decoded(&self, begun: &Decoder) -> (Decoder, Vec<Event>) {
        let mut decoder = begun.clone();
        for (fell_ns, bit) in &self.forced {
            decoder.force(*fell_ns, *bit);
        }
        let mut events = Vec::with_capacity(self.pulses.len() + 2);
        for pulse in &self.pulses {
            decoder.pulse(*pulse, &mut |event| events.push(event));
        }
        decoder.conclude(&mut |event| events.push(event));
        (decoder, events)
    }

    /// What may be changed, the likeliest first.
    pub(super) fn edits(&self, events: &[Event], habits: &Habits, step_ns: u64) -> Vec<Edit> {
        let mut edits: Vec<(u8, Edit)> = Vec::new();
        let place_of = |fell_ns: u64| self.pulses.binary_search_by_key(&fell_ns, |pulse| pulse.fell_ns).ok();
        for (place, pair) in self.pulses.windows(2).enumerate() {
            let [one, next] = *pair else { continue };
            let apart_ns = next.fell_ns.saturating_sub(one.fell_ns);
            if next.fell_ns.saturating_sub(one.rose_ns) <= RINGING_NS + step_ns {
                edits.push((0, Edit::Merge(place)));
            }
            if apart_ns + step_ns < EDGE_TO_EDGE_LEAST_NS {
                edits.extend([(1, Edit::Drop(place)), (1, Edit::Drop(place + 1))]);
            }
        }
        let mut after_all = 0_usize;
        let mut first_after_all = None;
        for event in events {
            let Event::Slot(slot) = event else { continue };
            if slot.speed == Speed::Overdrive {
                return Vec::new();
            }
            let Some(place) = place_of(slot.pulse.fell_ns) else { continue };
            let low_ns = slot.pulse.low_ns();

            match slot.role {
                Role::Unknown => {
                    after_all += 1;
                    first_after_all.get_or_insert(place);
                    if after_all <= PLACES {
                        edits.push((1, Edit::Drop(place)));
                        // A sensor that holds a poll for longer than it may.
                        if after_all == 1 && low_ns >= READ_ZERO_LOW_MOST_NS {
                            edits.push((3, Edit::Force(place, false)));
                        }
                    }
                }
                Role::Write => {
                    if (WRITE_ONE_LOW_MOST_NS..WRITE_ZERO_LOW_LEAST_NS).contains(&low_ns) {
                        edits.push((0, Edit::Force(place, !slot.bit)));
                    }
                }
                Role::Read => {
                    if slot.bit && low_ns > 3_000 && !habits.is_like_a_read_one(low_ns) {
                        edits.push((0, Edit::Force(place, false)));
                    }
                    if !slot.bit && low_ns < 24_000 && !habits.is_like_a_read_zero(low_ns) {
                        edits.push((1, Edit::Force(place, true)));
                    }
                }
            }
            if !habits.is_like_a_slot(low_ns) || slot.role == Role::Read && !habits.is_like_a_poll(low_ns) {
                edits.push((2, Edit::Drop(place)));
            }
        }
        // A master that goes on after the last byte does it in slots like all others; a burst of noise does not.
        if let Some(first) = first_after_all {
            let tail = self.pulses.get(first..).unwrap_or_default();
            let is_odd = |pair: &[Pulse]| {
                let [one, next] = *pair else { return false };
                next.fell_ns.saturating_sub(one.fell_ns) + step_ns < EDGE_TO_EDGE_LEAST_NS
                    || !habits.is_like_a_slot(next.low_ns())
            };
            let odd = tail.windows(2).filter(|pair| is_odd(pair)).count();
            if odd * 3 >= tail.len() {
                edits.push((0, Edit::DropFrom(first, tail.len())));
            }
        }
        // Bits that are left at the end.
        let open = events.iter().map(|event| if let Event::Transaction(of) = event { of.open_bits } else { 0 }).max();
        for place in self.pulses.len().saturating_sub(open.unwrap_or(0).into())..self.pulses.len() {
            edits.push((1, Edit::Drop(place)));
        }
        edits.sort_by_key(|(rank, _)| *rank);
        let mut all: Vec<Edit> = Vec::new();
        for (_, edit) in edits {
            if !all.contains(&edit) && all.len() < 3 * PLACES {
                all.push(edit);
            }
        }
        all
    }
}
