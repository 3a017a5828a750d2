//! A run that recorded its line is held against the judge of captures, which knows nothing of driver and scenario.
//!
//! Only what should be sound is judged: the spans of steps in which no fault is injected, and which provoke nothing themselves. Between two
//! steps the line is idle, so a span is a capture of its own.

use super::executor::Executor;
use crate::bench::{Extent, WaveformError};
use crate::record::{CaptureRecord, Objection};
use crate::rig::Rig;
use crate::scenario::{Action, Convert, Expectation, Measure};
use crate::waveform::capture::{Change, Item, Level};
use crate::waveform::timing::Power;
use crate::waveform::{ChooseError, Facts, WaveformSource, Weight, judge_edges};

/// A span of the rig's time, in nanoseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Span {
    from_ns: u64,
    to_ns: u64,
    /// The rig itself was changed before it: what sensors said before does not bear on what they say now.
    is_new_start: bool,
}

/// So many slots are recorded before the line is judged as far as it goes: a rig keeps a million changes of its signals, and a slot takes
/// few of them.
const SLOTS_AT_A_TIME: u64 = 100_000;

/// What of the run's own line is to be judged, and what was found so far.
#[derive(Clone, Debug, Default)]
pub(super) struct OwnLine {
    /// Steps that are not judged yet.
    spans: Vec<Span>,
    slots: u64,
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

impl Executor<'_> {
    /// Notes a step, and judges the line when much of it is recorded.
    pub(super) fn note_line(&mut self, action: &Action, quiet_since_ns: Option<u64>, slots: u64) {
        let line = &mut self.own_line;
        match quiet_since_ns {
            Some(from_ns) if !matches!(action, Action::Ambient { .. }) => {
                let is_new_start = std::mem::take(&mut line.is_new_start);
                line.spans.push(Span { from_ns, to_ns: self.bench.now_ns(), is_new_start });
            }
            _ => line.is_new_start = true,
        }
        self.own_line.slots += slots;
        if self.own_line.slots >= SLOTS_AT_A_TIME {
            self.judge_line_so_far();
        }
    }

    /// What the judge of captures says of the line that was recorded. Nothing where none was.
    pub(super) fn judge_own_line(&mut self) -> Option<CaptureRecord> {
        self.judge_line_so_far();
        self.own_line.found.take()
    }

    fn judge_line_so_far(&mut self) {
        self.own_line.slots = 0;
        let spans = std::mem::take(&mut self.own_line.spans);
        if self.own_line.is_unrecorded || (spans.is_empty() && self.own_line.found.is_some()) {
            return;
        }
        let mut vcd = Vec::new();
        let extent = match self.bench.write_waveform(&mut vcd) {
            Ok(extent) => extent,
            Err(WaveformError::NotPossible) => {
                self.own_line.is_unrecorded = true;
                return;
            }
            Err(error) => return self.object(error.to_string()),
        };
        match changes(&vcd) {
            Ok(mut changes) => {
                let began_ns = self.bench.waveform_began_ns();
                changes.iter_mut().for_each(|(at_ns, _)| *at_ns = at_ns.saturating_sub(began_ns));
                let found = judge(&changes, &spans, extent, facts(self.rig));
                let all = self.own_line.found.get_or_insert_default();
                all.judged_ns += found.judged_ns;
                found.objections.into_iter().for_each(|objection| add(all, objection));
            }
            Err(why) => self.object(why),
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

fn facts(rig: &Rig) -> Facts {
    let is_parasite = rig.inventory.iter().any(|sensor| sensor.supply == slotwise::thermometer::Supply::Parasite);
    Facts { power: if is_parasite { Power::Parasite } else { Power::Local } }
}

/// When the line changed, and whether it is high from then on.
fn changes(vcd: &[u8]) -> Result<Vec<(u64, bool)>, String> {
    if vcd.is_empty() {
        return Ok(Vec::new());
    }
    let source = WaveformSource::read(vcd).map_err(|error| error.to_string())?;
    let chosen = match source.choose(None) {
        Ok(chosen) => chosen,
        // A line on which nothing happened looks like none.
        Err(ChooseError::NoLine) => return Ok(Vec::new()),
        Err(error) => return Err(format!("the run's own waveform {error}")),
    };
    let signal = chosen.signal;
    let capture = source.capture(&chosen).map_err(|error| error.to_string())?;
    let mut changes = Vec::new();
    for item in capture {
        match item {
            Item::Change(Change { at_ns, signal: of, level }) if of == signal && level != Level::Unknown => {
                changes.push((at_ns, level == Level::High));
            }
            Item::Change(_) => {}
            Item::Damage(damage) => return Err(format!("the run's own waveform cannot be read: {damage:?}")),
        }
    }
    Ok(changes)
}

/// The spans of which everything was kept; those that follow each other are one.
fn joined(spans: &[Span], kept_from_ns: u64) -> Vec<Span> {
    let mut joined: Vec<Span> = Vec::new();
    for span in spans.iter().copied().filter(|span| span.from_ns >= kept_from_ns) {
        match joined.last_mut() {
            Some(last) if last.to_ns == span.from_ns && !span.is_new_start => last.to_ns = span.to_ns,
            _ => joined.push(span),
        }
    }
    joined
}

fn judge(changes: &[(u64, bool)], spans: &[Span], extent: Extent, facts: Facts) -> CaptureRecord {
    let mut record = CaptureRecord::default();
    let kept_from_ns = match extent {
        Extent::Whole => 0,
        Extent::End => changes.first().map_or(u64::MAX, |(at_ns, _)| *at_ns),
    };
    for Span { from_ns, to_ns, .. } in joined(spans, kept_from_ns) {
        let first = changes.partition_point(|(at_ns, _)| *at_ns <= from_ns);
        let end = changes.partition_point(|(at_ns, _)| *at_ns <= to_ns);
        let starts_high = first == 0 || changes[first - 1].1;
        let mut edges = vec![(from_ns, starts_high)];
        edges.extend_from_slice(&changes[first..end]);
        if edges.len() == 1 {
            continue;
        }
        let Ok(report) = judge_edges(&edges, to_ns, facts) else { continue };
        record.judged_ns += to_ns - from_ns;
        record.objections.extend(report.weighing(Weight::Fault).map(|finding| Objection {
            at_ns: finding.at_ns,
            sensors: finding.sensors.clone(),
            text: finding.text.clone(),
        }));
    }
    record
}
