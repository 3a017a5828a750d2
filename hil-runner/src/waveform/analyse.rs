//! The one pass over a capture.

use std::io::Read;

use slotwise::thermometer::Family;

use super::capture::{Capture, Damage, Item};
use super::decode::{Decoder, Event, Speed, Transaction};
use super::findings::{Cause, Findings, Topic, Watch, Weight};
use super::pulse::{Lows, Seen, Spikes};
use super::report::{Activity, Outcome, WaveformReport};
use super::source::Chosen;
use super::timing::{Driver, LineTime, LineTimeReport, Measures, Party, Power, judge, signed, window};
use crate::judge::edges::Side;
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
                self.activity.unassigned += u64::from(self.activity.resets == 0);
            }
            Event::Stray(_) => self.activity.strays += 1,
            Event::Reset { .. } => self.activity.resets += 1,
            Event::Transaction(transaction) => {
                self.activity.busy_ns += transaction.end_ns.saturating_sub(transaction.at_ns);
                each(transaction);
            }
            Event::Presence { .. } | Event::Lost => {}
        }
    }
}

/// Decodes and judges one signal of a capture, and hands out each transaction on the way. Memory stays the same however long it is.
pub fn analyse<R: Read>(mut capture: Capture<R>, chosen: Chosen, each: &mut dyn FnMut(&Transaction)) -> WaveformReport {
    let Chosen { signal, step_ns, read_zero_ns } = chosen;
    let name = capture.signals().get(signal).map(|signal| signal.path.clone()).unwrap_or_default();
    let mut gathering = Gathering::default();
    let mut decoder = Decoder::new(read_zero_ns);
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
    decoder.end(&mut |event| gathering.take(event, each));
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
    for report in &times {
        tell_time(&mut findings, report, &party);
    }
    tell_long_lows(&mut findings, &times);
    tell_spikes(&mut findings, spikes);
    let (findings, findings_not_kept) = findings.sorted();
    let outcome = if activity.resets == 0 {
        Outcome::NothingSeen
    } else if findings.iter().any(|finding| finding.weight == Weight::Fault) {
        Outcome::Faulty
    } else if damaged > 0 {
        Outcome::Incomplete
    } else {
        Outcome::Sound
    };
    WaveformReport {
        version: WaveformReport::VERSION,
        signal: name,
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

/// A line that is low for longer than anybody resets it.
fn tell_long_lows(findings: &mut Findings, times: &[LineTimeReport]) {
    /// Ten times the longest reset that a datasheet speaks of (chosen).
    const LONG_NS: u64 = 10_000_000;
    let longest =
        times.iter().filter(|of| of.time == LineTime::ResetLow).filter_map(|of| Some((of.most_ns, of.closest?)));
    for (most_ns, closest) in longest.filter(|(most_ns, _)| *most_ns >= LONG_NS) {
        let text = format!(
            "the line is low for up to {}: a supply that is off, a short, or a signal that was captured inverted",
            exact_time(signed(most_ns))
        );
        findings.push_counted(Topic::StuckLow, Weight::Hint, Cause::Line, closest.at_ns, 1, text);
    }
}

/// Highs that are too short for anything.
fn tell_spikes(findings: &mut Findings, spikes: Spikes) {
    if spikes.count > 0 {
        let text = "the line was high for less than a quarter of a microsecond inside of a low, which was read as one: noise, \
                    or an input without hysteresis on a slow edge";
        findings.push_counted(Topic::Stray, Weight::Hint, Cause::Line, spikes.first_ns, spikes.count, text.into());
    }
}

/// A time that broke its limits, as a finding.
fn tell_time(findings: &mut Findings, report: &LineTimeReport, party: &Party) {
    let (Some(closest), true) = (&report.closest, report.broken.sum() > 0) else { return };
    let limit = match closest.side {
        Side::Least => &report.window.least,
        Side::Most => &report.window.most,
    };
    let Some(limit) = limit else { return };
    let cause = match report.driver {
        Driver::Master => Cause::Master,
        Driver::Sensor => Cause::Sensor,
    };
    let text = format!(
        "{}, {}: {} where {} is asked ({}); {} of {} outside the limits",
        report.time.symbol(),
        report.time.what(),
        exact_time(signed(closest.value_ns)),
        limit.asked(closest.side),
        limit.source,
        report.broken.sum(),
        report.count
    );
    // A long reset does harm on parasite power alone, and whether anybody has that is not always known.
    let is_open = report.time == LineTime::ResetLow
        && report.broken.least == 0
        && party.power == Power::Unknown
        && !party.families.contains(&Family::Ds28ea00);
    let weight = if is_open { Weight::Hint } else { Weight::Fault };
    findings.push_counted(Topic::Timing, weight, cause, closest.at_ns, report.broken.sum(), text);
}
