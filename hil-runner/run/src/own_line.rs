//! A run that recorded its line is held against the judge of captures, which knows nothing of driver and scenario.
//!
//! Only what should be sound is judged: the spans of steps in which no fault is injected, and which provoke nothing themselves. Between two
//! steps the line is idle, so a span is a capture of its own.

use super::executor::Executor;
use slotwise_bench::{Extent, WaveformError};
use slotwise_record::{CaptureRecord, NotJudged, Objection};
use slotwise_rig::Rig;
use slotwise_scenario::{Action, Convert, Expectation, Measure};
use slotwise_terms::Stop;
use slotwise_waveform::timing::Power;
use slotwise_waveform::{Facts, Weight, judge_edges};

/// A span of the rig's time, in nanoseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Span {
    from_ns: u64,
    to_ns: u64,
    /// The rig itself was changed before it: what sensors said before does not bear on what they say now.
    is_new_start: bool,
}

impl Span {
    fn not_judged(self, why: &str) -> NotJudged {
        NotJudged { from_ns: self.from_ns, to_ns: self.to_ns, why: why.into() }
    }
}

/// So many changes are recorded before the line is judged as far as it goes: a rig keeps the last million.
const CHANGES_AT_A_TIME: u64 = 400_000;

/// What of the run's own line is to be judged, and what was found so far.
#[derive(Clone, Debug, Default)]
pub(super) struct OwnLine {
    /// Steps that are not judged yet.
    spans: Vec<Span>,
    /// Since when the step that is being done should be judged; none where it should not.
    quiet_since_ns: Option<u64>,
    /// How many changes there were when the line was judged last.
    changes: u64,
    is_new_start: bool,
    found: Option<CaptureRecord>,
    /// The rig records nothing.
    is_unrecorded: bool,
}

/// Whether what is on the line in such a step is against the datasheets by intention, or is no more than others make of it.
pub(super) fn provokes(action: &Action) -> bool {
    match action {
        Action::Find { fails, .. } | Action::Configure { fails, .. } => !fails.is_empty(),
        Action::Measure(Measure { convert, expect, .. }) => {
            *convert == Convert::Not
                || expect.iter().any(|expected| matches!(expected, Expectation::Fails(_) | Expectation::Doubt(_)))
        }
        // What they are made of is counted by itself, or is done to the rig.
        Action::Repeat { .. } | Action::PowerCycle { .. } | Action::Inject(_) | Action::Clear(_) => true,
        Action::AlarmSearch { .. }
        | Action::Holds { .. }
        | Action::FixedPoint(_)
        | Action::Ambient { .. }
        | Action::Wait { .. } => false,
    }
}

impl OwnLine {
    /// A step begins, which should be judged from this time on, if any.
    pub(super) const fn open(&mut self, quiet_since_ns: Option<u64>) {
        self.quiet_since_ns = quiet_since_ns;
    }
}

impl Executor<'_> {
    /// Notes a step that is done, and judges the line when much of it is recorded. `is_quiet`: it should be judged.
    pub(super) fn note_line(&mut self, action: &Action, is_quiet: bool) {
        let since_ns = self.own_line.quiet_since_ns.take();
        match since_ns {
            Some(_) if is_quiet && !matches!(action, Action::Ambient { .. }) => self.note_span(since_ns),
            _ => self.own_line.is_new_start = true,
        }
        self.judge_before_loss();
    }

    fn note_span(&mut self, since_ns: Option<u64>) {
        let Some(from_ns) = since_ns else { return };
        let is_new_start = std::mem::take(&mut self.own_line.is_new_start);
        self.own_line.spans.push(Span { from_ns, to_ns: self.bench.now_ns(), is_new_start });
    }

    /// Judges the line up to now when much of it is recorded, in the middle of a step too: the recorder drops the oldest when it is full.
    pub(super) fn judge_before_loss(&mut self) {
        if self.own_line.is_unrecorded {
            return;
        }
        let changes = self.bench.waveform_changes();
        if changes.saturating_sub(self.own_line.changes) < CHANGES_AT_A_TIME {
            return;
        }
        let since_ns = self.own_line.quiet_since_ns;
        self.note_span(since_ns);
        self.own_line.quiet_since_ns = since_ns.map(|_| self.bench.now_ns());
        self.judge_line_so_far();
    }

    /// What the judge of captures says of the line that was recorded. Nothing where none was.
    pub(super) fn judge_own_line(&mut self) -> Option<CaptureRecord> {
        self.judge_line_so_far();
        self.own_line.found.take()
    }

    fn judge_line_so_far(&mut self) {
        self.own_line.changes = self.bench.waveform_changes();
        let spans = std::mem::take(&mut self.own_line.spans);
        if self.own_line.is_unrecorded || (spans.is_empty() && self.own_line.found.is_some()) {
            return;
        }
        if self.stop.is_raised() {
            // Who stops a run waits for its end, and a run that was stopped has not passed anyway.
            let all = self.own_line.found.get_or_insert_default();
            return spans.into_iter().for_each(|span| add_part(all, span.not_judged(STOPPED)));
        }
        match self.bench.line_changes() {
            Ok((mut changes, extent)) => {
                let began_ns = self.bench.waveform_began_ns();
                changes.iter_mut().for_each(|(at_ns, _)| *at_ns = at_ns.saturating_sub(began_ns));
                let found = judge(&changes, &spans, extent, facts(self.rig), self.stop);
                let all = self.own_line.found.get_or_insert_default();
                all.judged_ns += found.judged_ns;
                found.not_judged.into_iter().for_each(|part| add_part(all, part));
                found.objections.into_iter().for_each(|objection| add(all, objection));
            }
            Err(WaveformError::NotPossible) => self.own_line.is_unrecorded = true,
            Err(error) => self.object(error.to_string()),
        }
    }

    fn object(&mut self, text: String) {
        let objection = Objection { at_ns: self.bench.now_ns(), sensors: Vec::new(), text };
        add(self.own_line.found.get_or_insert_default(), objection);
    }
}

/// So many different objections are kept.
const MOST_OBJECTIONS: usize = 100;

/// Adds an objection that is not there yet.
fn add(record: &mut CaptureRecord, objection: Objection) {
    let is_same = |known: &Objection| known.text == objection.text && known.sensors == objection.sensors;
    if record.objections.len() < MOST_OBJECTIONS && !record.objections.iter().any(is_same) {
        record.objections.push(objection);
    }
}

/// So many parts are kept apart.
const MOST_PARTS: usize = 100;

/// Adds a part that was not judged; to the last one, where there is nothing between them or no more room.
fn add_part(record: &mut CaptureRecord, part: NotJudged) {
    let is_full = record.not_judged.len() >= MOST_PARTS;
    match record.not_judged.last_mut() {
        Some(last) if is_full || (last.why == part.why && last.to_ns == part.from_ns) => last.to_ns = part.to_ns,
        _ => record.not_judged.push(part),
    }
}

/// Why a part is not judged at the end of a run that was stopped.
const STOPPED: &str = "the run was stopped";
/// Why a part is not judged that the recorder has dropped.
const LOST: &str = "the recorder was full and had dropped it";

fn facts(rig: &Rig) -> Facts {
    let is_parasite = rig.inventory.iter().any(|sensor| sensor.supply == slotwise::thermometer::Supply::Parasite);
    Facts { power: if is_parasite { Power::Parasite } else { Power::Local } }
}

/// Spans that follow each other are one.
fn joined(spans: &[Span]) -> Vec<Span> {
    let mut joined: Vec<Span> = Vec::new();
    for span in spans {
        match joined.last_mut() {
            Some(last) if last.to_ns == span.from_ns && !span.is_new_start => last.to_ns = span.to_ns,
            _ => joined.push(*span),
        }
    }
    joined
}

/// A low of this length is a reset (DS18B20 datasheet (7/19), tRSTL).
const RESET_LOW_NS: u64 = 480_000;

/// Where the first reset after this time begins: what is before it may be the end of a transaction.
fn first_reset_ns(changes: &[(u64, bool)], from_ns: u64) -> Option<u64> {
    let is_reset = |pair: &[(u64, bool)]| !pair[0].1 && pair[1].0 - pair[0].0 >= RESET_LOW_NS;
    changes.windows(2).find(|pair| pair[0].0 > from_ns && is_reset(pair)).map(|pair| pair[0].0 - 1)
}

fn judge(changes: &[(u64, bool)], spans: &[Span], extent: Extent, facts: Facts, stop: &Stop) -> CaptureRecord {
    let mut record = CaptureRecord::default();
    let kept_from_ns = match extent {
        Extent::Whole => 0,
        Extent::End => changes.first().map_or(u64::MAX, |(at_ns, _)| *at_ns),
    };
    for span in joined(spans) {
        if stop.is_raised() {
            add_part(&mut record, span.not_judged(STOPPED));
            continue;
        }
        let Span { mut from_ns, to_ns, .. } = span;
        if from_ns < kept_from_ns {
            let judged_from_ns = first_reset_ns(changes, kept_from_ns).map_or(to_ns, |at_ns| at_ns.min(to_ns));
            add_part(&mut record, NotJudged { from_ns, to_ns: judged_from_ns, why: LOST.into() });
            from_ns = judged_from_ns;
        }
        let first = changes.partition_point(|(at_ns, _)| *at_ns <= from_ns);
        let end = changes.partition_point(|(at_ns, _)| *at_ns <= to_ns);
        if first == end {
            continue;
        }
        let starts_high = first == 0 || changes[first - 1].1;
        let mut edges = vec![(from_ns, starts_high)];
        edges.extend_from_slice(&changes[first..end]);
        let report = match judge_edges(&edges, to_ns, facts) {
            Ok(report) => report,
            Err(error) => {
                add_part(&mut record, NotJudged { from_ns, to_ns, why: error.to_string() });
                continue;
            }
        };
        record.judged_ns += to_ns - from_ns;
        record.objections.extend(report.weighing(Weight::Fault).map(|finding| Objection {
            at_ns: finding.at_ns,
            sensors: finding.sensors.clone(),
            text: finding.text.clone(),
        }));
    }
    record
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Resets of 500 us, each followed by a presence pulse, one per 10 ms.
    fn resets(count: u64) -> Vec<(u64, bool)> {
        let of_one = |number: u64| {
            let at_ns = number * 10_000_000 + 1_000_000;
            [(at_ns, false), (at_ns + 500_000, true), (at_ns + 530_000, false), (at_ns + 650_000, true)]
        };
        (0..count).flat_map(of_one).collect()
    }

    fn span(from_ms: u64, to_ms: u64) -> Span {
        Span { from_ns: from_ms * 1_000_000, to_ns: to_ms * 1_000_000, is_new_start: false }
    }

    #[test]
    fn what_the_recorder_has_dropped_is_named_and_the_rest_is_judged() {
        let all = resets(10);
        let facts = Facts { power: Power::Local };
        let spans = [span(0, 20), span(20, 100)];
        let whole = judge(&all, &spans, Extent::Whole, facts, &Stop::new());
        assert_eq!((whole.judged_ns, whole.not_judged), (100_000_000, Vec::new()));
        // The first change that is left is a rise in the middle of the third reset.
        let end = judge(&all[9..], &spans, Extent::End, facts, &Stop::new());
        let lost = NotJudged { from_ns: 0, to_ns: 30_999_999, why: LOST.into() };
        assert_eq!((end.judged_ns, end.not_judged), (100_000_000 - 30_999_999, vec![lost]));
        let nothing = judge(&[], &spans[..1], Extent::End, facts, &Stop::new());
        assert_eq!((nothing.judged_ns, nothing.not_judged.len()), (0, 1));
    }

    #[test]
    fn a_run_that_was_stopped_does_not_wait_for_the_judge() {
        let stop = Stop::new();
        stop.raise();
        let found = judge(&resets(10), &[span(0, 100)], Extent::Whole, Facts { power: Power::Local }, &stop);
        let all = NotJudged { from_ns: 0, to_ns: 100_000_000, why: STOPPED.into() };
        assert_eq!((found.judged_ns, found.not_judged), (0, vec![all]));
    }
}
