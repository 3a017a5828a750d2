//! The one pass over a capture.

use std::io::Read;

use super::capture::{Capture, Damage, Item};
use super::decode::{Decoder, Event, Speed, Transaction};
use super::findings::Watch;
use super::pulse::{Lows, Seen};
use super::report::{Activity, Outcome, WaveformReport};
use super::source::Chosen;
use super::timing::{LineTimeReport, Measures, judge, signed, window};
use crate::record::units::exact_time;

/// Places that could not be read and are told one by one.
const DAMAGES_KEPT: usize = 20;

/// What is gathered on the way.
#[derive(Default)]
struct Gathering {
    measures: Measures,
    watch: Watch,
    activity: Activity,
}

impl Gathering {
    fn take(&mut self, event: Event, each: &mut dyn FnMut(&Transaction)) {
        self.measures.take(&event);
        self.watch.take(&event);
        match &event {
            Event::Slot(slot) => {
                self.activity.slots += 1;
                self.activity.fast_slots += u64::from(slot.speed == Speed::Overdrive);
                self.activity.unassigned += u64::from(self.watch.resets().0 == 0);
            }
            Event::Stray(_) => self.activity.strays += 1,
            Event::Transaction(transaction) => {
                self.activity.busy_ns += transaction.end_ns.saturating_sub(transaction.at_ns);
                each(transaction);
            }
            Event::Reset { .. } | Event::Presence { .. } | Event::Lost => {}
        }
    }
}

/// Decodes and judges one signal of a capture, and hands out each transaction on the way. Memory stays the same however long it is.
pub fn analyse<R: Read>(mut capture: Capture<R>, chosen: Chosen, each: &mut dyn FnMut(&Transaction)) -> WaveformReport {
    let Chosen { signal, step_ns, borders, is_inverted } = chosen;
    let name = capture.signals().get(signal).map(|signal| signal.path.clone()).unwrap_or_default();
    let mut gathering = Gathering::default();
    let mut decoder = Decoder::new(borders);
    let mut lows = Lows::default();
    // A capture in which time goes back still has a length.
    let mut from_ns = None;
    let (mut damages, mut damaged): (Vec<Damage>, u64) = (Vec::new(), 0);
    let mut damage = |damage: Damage| {
        damaged += 1;
        if damages.len() < DAMAGES_KEPT {
            damages.push(damage);
        }
    };
    while let Some(item) = capture.next() {
        let line = capture.line();
        let mut see = |seen| match seen {
            Seen::Pulse(pulse) => decoder.pulse(pulse, &mut |event| gathering.take(event, each)),
            Seen::Lost { since_ns, until_ns } => {
                let lasted = exact_time(signed(until_ns.saturating_sub(since_ns)));
                damage(Damage {
                    line,
                    at_ns: since_ns,
                    why: format!("the level of the signal is unknown for {lasted}"),
                });
                decoder.lose(&mut |event| gathering.take(event, each));
            }
        };
        match item {
            Item::Change(change) => {
                let from_ns = from_ns.get_or_insert(change.at_ns);
                *from_ns = (*from_ns).min(change.at_ns);
                if change.signal == signal {
                    lows.take(change.at_ns, change.level, &mut see);
                }
            }
            Item::Damage(place) => {
                lows.lose(&mut see);
                damage(place);
                decoder.lose(&mut |event| gathering.take(event, each));
            }
        }
    }
    if let Some(since_ns) = lows.low_since_ns() {
        gathering.watch.low_at_end(since_ns, capture.now_ns());
    }
    let spikes = lows.spikes();
    lows.lose(&mut |seen| {
        if let Seen::Pulse(pulse) = seen {
            decoder.pulse(pulse, &mut |event| gathering.take(event, each));
        }
    });
    decoder.end(capture.now_ns(), &mut |event| gathering.take(event, each));
    let Gathering { measures, watch, mut activity } = gathering;
    let party = watch.party();
    (activity.resets, activity.unanswered) = watch.resets();
    // To the nanosecond a capture is taken to be exact.
    let known_to_ns = if step_ns > 1 { step_ns } else { 0 };
    let times: Vec<LineTimeReport> = measures
        .spreads()
        .map(|(speed, time, spread)| judge(speed, time, spread, window(speed, time, &party), known_to_ns))
        .collect();
    let (mut findings, sensors) = watch.finish();
    findings.tell_times(&times, &party);
    findings.tell_spikes(spikes);
    let is_faulty = findings.is_faulty();
    let (findings, findings_not_kept) = findings.sorted();
    let outcome = if activity.resets == 0 {
        Outcome::NothingSeen
    } else if is_faulty {
        Outcome::Faulty
    } else if damaged > 0 {
        Outcome::Incomplete
    } else {
        Outcome::Sound
    };
    // Where time goes back, the same stretch is counted twice.
    activity.busy_ns = activity.busy_ns.min(capture.end_ns().saturating_sub(from_ns.unwrap_or(0)));
    WaveformReport {
        version: WaveformReport::VERSION,
        signal: name,
        is_inverted,
        outcome,
        from_ns: from_ns.unwrap_or(0),
        to_ns: capture.end_ns(),
        step_ns,
        activity,
        times,
        sensors,
        findings,
        findings_not_kept,
        damages,
        damaged,
        is_given_up: capture.is_given_up(),
        replay: None,
    }
}
