//! The one pass over a capture, item by item.

use super::capture::{Damage, Item};
use super::decode::{Event, Explainer, Phase, Speed, Transaction};
use super::facts::Facts;
use super::findings::{Findings, Watch};
use super::pulse::{Lows, Pulse, Seen};
use super::report::{Activity, Outcome, WaveformReport};
use super::source::Chosen;
use super::timing::{LineTimeReport, Measures, judge, signed, window};
use super::unjudged::{Unjudged, UnjudgedParts, UnjudgedWhat};
use slotwise_terms::units::exact_time;

/// Places that could not be read and are reported one by one.
const DAMAGES_KEPT: usize = 20;

/// What is gathered on the way.
#[derive(Default)]
struct Gathering {
    measures: Measures,
    watch: Watch,
    activity: Activity,
    parts: UnjudgedParts,
    /// Slots before the first reset: the first, and the last.
    before: Option<(u64, u64)>,
    has_begun: bool,
}

impl Gathering {
    fn take(&mut self, event: Event, each: &mut dyn FnMut(&Transaction)) {
        self.watch.take(&event);
        self.measures.take(&event, self.watch.answers_of());
        match &event {
            Event::Slot(slot) => {
                self.activity.slots += 1;
                self.activity.fast_slots += u64::from(slot.speed == Speed::Overdrive);
                if !self.has_begun {
                    self.activity.unassigned += 1;
                    let (first, _) = self.before.unwrap_or((slot.pulse.fell_ns, 0));
                    self.before = Some((first, slot.pulse.rose_ns));
                }
            }
            Event::Stray(_) | Event::Ringing { .. } => self.activity.strays += 1,
            Event::Transaction(transaction) => {
                self.activity.busy_ns += transaction.end_ns.saturating_sub(transaction.at_ns);
                self.foreign(transaction);
                each(transaction);
            }
            Event::Reset { .. } | Event::Opening(_) | Event::Low(_) => self.has_begun = true,
            Event::Presence { .. } | Event::Unclear { .. } | Event::Lost => {}
        }
    }

    /// Commands to devices that are no thermometers are not judged.
    fn foreign(&mut self, transaction: &Transaction) {
        if transaction.phases.iter().any(|phase| matches!(phase, Phase::Foreign { .. })) {
            self.parts.add(UnjudgedWhat::OtherFamilies, transaction.at_ns, transaction.end_ns);
        }
    }
}

/// Decodes and judges one signal, item by item. Memory stays the same however long it is.
pub struct CaptureJudge<'a> {
    chosen: Chosen,
    each: &'a mut dyn FnMut(&Transaction),
    gathering: Gathering,
    explainer: Explainer,
    lows: Lows,
    /// A capture in which time goes back still has a length.
    from_ns: Option<u64>,
    damages: Vec<Damage>,
    damaged: u64,
    is_stopped: bool,
}

/// What there is to be known of a capture once it was read.
#[derive(Clone, Debug, Default)]
pub(super) struct ReadTo {
    pub(super) signal: String,
    /// The time of the last item.
    pub(super) now_ns: u64,
    /// The latest time.
    pub(super) end_ns: u64,
    pub(super) is_given_up: bool,
}

impl<'a> CaptureJudge<'a> {
    /// A judge of a signal, with what is known beside it. `each`: gets each transaction.
    pub fn new(chosen: Chosen, facts: Facts, each: &'a mut dyn FnMut(&Transaction)) -> Self {
        let mut gathering = Gathering { measures: Measures::new(chosen.known_to_ns()), ..Gathering::default() };
        gathering.watch.set_facts(&facts, chosen.known_to_ns());
        Self {
            explainer: Explainer::new(chosen.borders, chosen.habits, chosen.known_to_ns()),
            chosen,
            each,
            gathering,
            lows: Lows::default(),
            from_ns: None,
            damages: Vec::new(),
            damaged: 0,
            is_stopped: false,
        }
    }

    /// Takes what comes next. `line`: of the file.
    pub fn item(&mut self, item: Item, line: u64) {
        match item {
            Item::Change(change) => {
                let from_ns = self.from_ns.get_or_insert(change.at_ns);
                *from_ns = (*from_ns).min(change.at_ns);
                if change.signal == self.chosen.signal {
                    // No change has more to say than this.
                    let (mut seen, mut count) = ([None; 3], 0);
                    self.lows.take(change.at_ns, change.level, &mut |next| {
                        if let Some(place) = seen.get_mut(count) {
                            (*place, count) = (Some(next), count + 1);
                        }
                    });
                    seen.into_iter().flatten().for_each(|next| self.see(next, line));
                }
            }
            Item::Damage(place) => {
                let mut seen = Vec::new();
                self.lows.lose(&mut |next| seen.push(next));
                seen.into_iter().for_each(|next| self.see(next, line));
                self.damage(place);
                self.lose();
            }
        }
    }

    /// The rest is not read.
    pub const fn stop(&mut self) {
        self.is_stopped = true;
    }

    fn see(&mut self, seen: Seen, line: u64) {
        let Self { explainer, gathering, each, .. } = self;
        let mut emit = |event| gathering.take(event, each);
        match seen {
            Seen::Pulse(pulse) => explainer.pulse(pulse, &mut emit),
            Seen::Opening(pulse) => self.opening(pulse),
            Seen::Lost { since_ns, until_ns } => {
                let lasted = exact_time(signed(until_ns.saturating_sub(since_ns)));
                let why = format!("the level of the signal is unknown for {lasted}");
                self.damage(Damage { line, at_ns: since_ns, why });
                self.lose();
            }
        }
    }

    /// The capture begins in the middle of a low, or goes on in one after edges were lost.
    fn opening(&mut self, pulse: Pulse) {
        let Self { explainer, gathering, each, .. } = self;
        explainer.opening(pulse, &mut |event| gathering.take(event, each));
        // tRSTL is kept whatever was before.
        let is_whole = pulse.low_ns() + self.chosen.known_to_ns() >= slotwise_limits::figures::RESET_LOW_LEAST_NS;
        let is_first = self.from_ns == Some(pulse.fell_ns);
        if is_first && !is_whole {
            gathering.parts.add(UnjudgedWhat::Opening, pulse.fell_ns, pulse.rose_ns);
        }
    }

    fn damage(&mut self, damage: Damage) {
        self.damaged += 1;
        self.gathering.parts.add(UnjudgedWhat::Damage, damage.at_ns, damage.at_ns);
        if self.damages.len() < DAMAGES_KEPT {
            self.damages.push(damage);
        }
    }

    fn lose(&mut self) {
        let Self { explainer, gathering, each, .. } = self;
        explainer.lose(&mut |event| gathering.take(event, each));
    }

    /// The report on all changes so far.
    pub(super) fn finish(mut self, read: ReadTo) -> WaveformReport {
        let low_since_ns = self.lows.low_since_ns();
        if let Some(since_ns) = low_since_ns {
            self.gathering.watch.low_at_end(since_ns, read.now_ns);
        }
        let spikes = self.lows.spikes();
        let mut last = Vec::new();
        self.lows.lose(&mut |seen| last.push(seen));
        last.into_iter().for_each(|seen| self.see(seen, 0));
        let Self { mut explainer, mut gathering, each, chosen, .. } = self;
        explainer.end(read.now_ns, &mut |event| gathering.take(event, each));
        let Gathering { measures, watch, mut activity, mut parts, before, .. } = gathering;
        let is_stuck = low_since_ns.is_some_and(|since_ns| Watch::is_stuck(since_ns, read.now_ns));
        if let Some(at_ns) = watch.cut_at().or(low_since_ns).filter(|_| !is_stuck && self.damaged == 0) {
            parts.add(UnjudgedWhat::End, at_ns, read.now_ns);
        }
        if let Some((from_ns, to_ns)) = before {
            parts.add(UnjudgedWhat::Opening, from_ns, to_ns);
        }
        if self.is_stopped {
            parts.add(UnjudgedWhat::Rest, read.now_ns, read.now_ns);
        }
        if chosen.is_too_coarse() {
            parts.add(UnjudgedWhat::TooCoarse, self.from_ns.unwrap_or(0), read.end_ns);
        }
        let party = watch.party();
        let only = watch.only_named();
        (activity.resets, activity.unanswered) = watch.resets();
        let known_to_ns = chosen.known_to_ns();
        let times: Vec<LineTimeReport> = measures
            .spreads()
            .map(|(speed, time, spread)| judge(speed, time, spread, window(speed, time, &party), known_to_ns))
            .collect();
        let (mut findings, sensors) = watch.finish();
        findings.report_times(&times, &measures.broken_zeros(), only, &party);
        findings.report_spikes(spikes);
        if chosen.is_too_coarse() {
            findings = Findings::default();
        }
        let is_faulty = findings.is_faulty();
        let (findings, findings_not_kept) = findings.sorted();
        let unjudged: Vec<Unjudged> = parts.list(chosen.step_ns);
        let outcome = if activity.resets == 0 {
            Outcome::NothingSeen
        } else if is_faulty {
            Outcome::Faulty
        } else if !unjudged.is_empty() {
            Outcome::Incomplete
        } else if findings.is_empty() {
            Outcome::Sound
        } else {
            Outcome::SoundWithDoubts
        };
        // Where time goes back, the same stretch is counted twice.
        activity.busy_ns = activity.busy_ns.min(read.end_ns.saturating_sub(self.from_ns.unwrap_or(0)));
        WaveformReport {
            schema_version: WaveformReport::VERSION,
            signal: read.signal,
            is_inverted: chosen.is_inverted,
            outcome,
            from_ns: self.from_ns.unwrap_or(0),
            to_ns: read.end_ns,
            step_ns: chosen.step_ns,
            activity,
            times,
            sensors,
            findings,
            findings_not_kept,
            unjudged,
            damages: self.damages,
            damaged: self.damaged,
            is_given_up: read.is_given_up,
            replay: None,
        }
    }
}
