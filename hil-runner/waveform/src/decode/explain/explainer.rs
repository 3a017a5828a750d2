//! Keeps a transaction until it is over, and hands on the simplest reading of it.

use super::cost::{Hints, NONSENSE, cost};
use super::edit::{Edit, RINGING_NS, Reading};
use crate::decode::{Borders, Decoder, Event, Habits, Phase, Role, Speed};
use crate::lengths::RESET_NS;
use crate::pulse::Pulse;
use slotwise_limits::figures::RESET_LOW_LEAST_NS;

/// Pulses that are kept of one transaction: more than half a second of polls without a pause. What is longer is handed on as it is.
const KEPT: usize = 8_192;
/// Other readings are tried of transactions that are no longer: none but polls makes one so long.
const TRIED: usize = 2_048;
/// What weighs less than this is no contradiction.
const SENSE: u64 = 20;
/// So many changes are made at most.
const CHANGES: usize = 12;
/// A pulse that is one too many may be any if the transaction is no longer than that.
const ALL: usize = 400;

/// From pulses to the simplest reading of each transaction.
#[derive(Clone, Debug)]
pub struct Explainer {
    decoder: Decoder,
    habits: Habits,
    step_ns: u64,
    /// The decoder as it was when the transaction under way had begun.
    begun: Option<Box<Decoder>>,
    /// The pulses since.
    pulses: Vec<Pulse>,
    /// Their events if no pulse is changed.
    events: Vec<Event>,
    /// The last pulse, until it is clear that it does not go on.
    last: Option<Pulse>,
    /// A low that was high for a moment: when, and for how long.
    rings: Vec<Event>,
}

impl Explainer {
    /// Nothing is known of the line yet but its habits. `step_ns`: a time is known to less than this, up and down; 0 if exactly.
    #[must_use]
    pub fn new(borders: Borders, habits: Habits, step_ns: u64) -> Self {
        Self {
            decoder: Decoder::new(borders),
            habits,
            step_ns,
            begun: None,
            pulses: Vec::new(),
            events: Vec::new(),
            last: None,
            rings: Vec::new(),
        }
    }

    /// Takes the next pulse, and reports what follows.
    pub fn pulse(&mut self, pulse: Pulse, emit: &mut impl FnMut(Event)) {
        let Some(last) = self.last.replace(pulse) else { return };
        let high_ns = pulse.fell_ns.saturating_sub(last.rose_ns);
        // Neither is a reset, and both together are.
        let is_part = |low_ns: u64| low_ns < RESET_LOW_LEAST_NS;
        if high_ns <= RINGING_NS + self.step_ns
            && is_part(last.low_ns())
            && is_part(pulse.low_ns())
            && pulse.rose_ns.saturating_sub(last.fell_ns) >= RESET_NS
        {
            self.last = Some(Pulse { fell_ns: last.fell_ns, rose_ns: pulse.rose_ns });
            self.rings.push(Event::Ringing { at_ns: last.rose_ns, high_ns });
            return;
        }
        self.take(last, emit);
    }

    /// A pulse of which the beginning was not seen.
    pub fn opening(&mut self, pulse: Pulse, emit: &mut impl FnMut(Event)) {
        self.flush(emit);
        self.settle(false, emit);
        self.decoder.opening(pulse, emit);
        self.begun = Some(Box::new(self.decoder.clone()));
    }

    fn flush(&mut self, emit: &mut impl FnMut(Event)) {
        if let Some(last) = self.last.take() {
            self.take(last, emit);
        }
    }

    fn take(&mut self, pulse: Pulse, emit: &mut impl FnMut(Event)) {
        self.rings.drain(..).for_each(&mut *emit);
        let Self { decoder, events, .. } = self;
        let known = events.len();
        decoder.pulse(pulse, &mut |event| events.push(event));
        self.pulses.push(pulse);
        // A reset, or a low that ends everything: the transaction before it is over.
        let new = self.events.get(known..).unwrap_or_default();
        let begins = new.iter().rposition(|event| matches!(event, Event::Reset { .. } | Event::Low(_)));
        let Some(begins) = begins.map(|place| known + place) else {
            if self.begun.is_none() || self.pulses.len() > KEPT {
                self.stream(emit);
            }
            return;
        };
        let is_low = matches!(self.events.get(begins), Some(Event::Low(_)));
        let from_ns = match self.events.get(begins) {
            Some(Event::Reset { pulse, .. } | Event::Low(pulse)) => pulse.fell_ns,
            _ => pulse.fell_ns,
        };
        let rest = self.events.split_off(begins);
        let place = self.pulses.partition_point(|pulse| pulse.fell_ns < from_ns);
        let next = self.pulses.split_off(place);
        if let Some(decoder) = self.settle(is_low, emit) {
            // Another reading than the decoder's own: it takes the new transaction from there.
            self.decoder = decoder;
            for pulse in next {
                self.decoder.pulse(pulse, emit);
            }
        } else {
            rest.into_iter().for_each(&mut *emit);
        }
        self.begun = (!is_low).then(|| Box::new(self.decoder.clone()));
    }

    /// Hands on what there is as it is, and keeps no more of this transaction.
    fn stream(&mut self, emit: &mut impl FnMut(Event)) {
        self.events.drain(..).for_each(emit);
        self.pulses.clear();
        self.begun = None;
    }

    /// Edges may be missing from here on.
    pub fn lose(&mut self, emit: &mut impl FnMut(Event)) {
        self.flush(emit);
        let mut rest = Vec::new();
        self.decoder.lose(&mut |event| rest.push(event));
        self.over(rest, emit);
    }

    /// The capture is over, at a time.
    pub fn end(&mut self, at_ns: u64, emit: &mut impl FnMut(Event)) {
        self.flush(emit);
        let mut rest = Vec::new();
        self.decoder.end(at_ns, &mut |event| rest.push(event));
        self.over(rest, emit);
    }

    fn over(&mut self, rest: Vec<Event>, emit: &mut impl FnMut(Event)) {
        let lost: Vec<Event> = rest.iter().filter(|event| matches!(event, Event::Lost)).cloned().collect();
        self.events.extend(rest.into_iter().filter(|event| !matches!(event, Event::Lost)));
        let is_broken = self.events.iter().any(|event| matches!(event, Event::Transaction(of) if of.broken_off));
        self.settle(is_broken, emit);
        lost.into_iter().for_each(emit);
        self.begun = None;
    }

    /// The transaction is over. The decoder after it, if pulses were changed. `is_cut`: it was not over by itself.
    fn settle(&mut self, is_cut: bool, emit: &mut impl FnMut(Event)) -> Option<Decoder> {
        let events = std::mem::take(&mut self.events);
        let pulses = std::mem::take(&mut self.pulses);
        let begun = self.begun.take();
        // Neither overdrive speed nor the commands of other devices are known well enough.
        let is_fast = events.iter().any(|event| match event {
            Event::Slot(slot) => slot.speed == Speed::Overdrive,
            Event::Transaction(of) => of.phases.iter().any(|phase| matches!(phase, Phase::Foreign { .. })),
            _ => false,
        });
        let is_clean = cost(&events, &self.habits, self.step_ns, Hints::LeftOut).sum() == 0;
        let Some(begun) = begun.filter(|_| !is_clean && !is_fast && pulses.len() <= TRIED) else {
            events.into_iter().for_each(emit);
            return None;
        };
        if begun.speed() == Speed::Overdrive {
            events.into_iter().for_each(emit);
            return None;
        }
        let as_it_came = cost(&events, &self.habits, self.step_ns, Hints::Weighed);
        let first_ns = pulses.first().map(|pulse| pulse.fell_ns);
        let mut best = Reading::new(pulses);
        let mut best_events = events.clone();
        let mut best_cost = as_it_came;
        let mut decoder = None;
        for _ in 0..CHANGES {
            let mut better = None;
            let so_far = best.cost + best_cost.sum();
            let mut edits = best.edits(&best_events, &self.habits, self.step_ns);
            if best_cost.sense >= NONSENSE && is_one_too_many(&best_events) && best.pulses.len() <= ALL {
                edits.extend((0..best.pulses.len()).map(Edit::Drop));
            }
            let mut least = so_far;
            for edit in edits {
                let Some(other) = best.with(edit) else { continue };
                let (after, mut events) = other.decoded(&begun);
                // Another transaction in it would be more than another reading.
                if events.iter().any(|event| matches!(event, Event::Reset { .. } | Event::Low(_))) {
                    continue;
                }
                if is_cut {
                    cut(&mut events);
                }
                let new = cost(&events, &self.habits, self.step_ns, Hints::Weighed);
                if other.cost + new.sum() < least {
                    least = other.cost + new.sum();
                    better = Some((other, events, new, after));
                }
            }
            let Some((reading, events, new, after)) = better else { break };
            (best, best_events, best_cost) = (reading, events, new);
            decoder = Some(after);
        }
        // Pulses may be left out if that makes sense of all others, or if their times speak against them.
        let is_better = best_cost.sense < SENSE || best_cost.too_near < as_it_came.too_near;
        if !is_better && !best.is_sure {
            (best, best_events, best_cost, decoder) = (Reading::default(), events, as_it_came, None);
        }
        let is_unclear = best_cost.sense >= NONSENSE && best_cost.too_near >= 2 && !self.habits.is_hasty;
        if is_unclear && let Some(at_ns) = first_ns {
            emit(Event::Unclear { at_ns });
        }
        best.changes.into_iter().for_each(&mut *emit);
        best_events.into_iter().for_each(emit);
        decoder
    }
}

/// The last transaction of these was not over.
fn cut(events: &mut [Event]) {
    for event in events {
        if let Event::Transaction(transaction) = event {
            transaction.broken_off = true;
        }
    }
}

/// Whether a single bit is left at the end.
fn is_one_too_many(events: &[Event]) -> bool {
    events.iter().any(|event| match event {
        Event::Transaction(of) => of.open_bits == 1,
        Event::Slot(slot) => slot.role == Role::Unknown,
        _ => false,
    })
}
