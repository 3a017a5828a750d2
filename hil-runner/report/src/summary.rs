//! The lines after the last step: the sensors, each with all that was held against it; the outcome in one line, and one hint.

use super::brief::worst_distance;
use super::hint::{breakage_hint, failure_hint};
use super::look::Ink;
use super::step::{label, place};
use super::verdicts::{painted, worst};
use super::{Grid, TextLook, nothing, table};
use slotwise_record::{
    Breakage, ReadNumber, ReadingOutcome, Record, Ruling, RunOutcome, StepData, StepOutcome, Subject,
};
use slotwise_terms::units::{count, rig_time};

/// So many objections to the recorded line are shown.
const MOST_OBJECTIONS: usize = 5;

/// Lines that close a report.
pub(super) fn tell(look: &TextLook, record: &Record) -> Vec<String> {
    let word = record.end.outcome.word();
    let text = look.wrap(&format!("{word}: "), &sentence(record));
    let mut lines = vec![String::new(), text.replacen(word, &Ink::from(record.end.outcome).on(word), 1)];
    lines.extend(super::line::tell(look, record));
    if let Some(edges) = &record.end.edges {
        lines.extend(super::edges::tell(look, edges));
    }
    if let Some(capture) = &record.end.capture {
        lines.extend(
            capture
                .objections
                .iter()
                .take(MOST_OBJECTIONS)
                .map(|objection| look.wrap("recorded line: ", &super::line::objection(objection))),
        );
        if let Some(more) = capture.objections.len().checked_sub(MOST_OBJECTIONS).filter(|more| *more > 0) {
            lines.push(format!("recorded line: {} more in the record", count(more, "objection")));
        }
    }
    lines.extend(super::line::not_judged(record).map(|text| look.wrap("recorded line: ", &text)));
    let hint = match &record.end.breakage {
        Some(breakage) => Some(breakage_hint(breakage, &record.rig)),
        None => failure_hint(record),
    };
    if let Some(hint) = hint {
        lines.push(look.wrap("hint: ", &hint).replacen("hint:", &Ink::Strong.on("hint:"), 1));
    }
    lines
}

fn sentence(record: &Record) -> String {
    let steps = count(record.steps.len(), "step");
    let which = |outcome| {
        let places: Vec<String> =
            record.steps.iter().filter(|step| step.outcome == outcome).map(|step| place(&step.place)).collect();
        format!("{} {}", if places.len() == 1 { "step" } else { "steps" }, places.join(", "))
    };
    let verdicts = || record.steps.iter().flat_map(|step| &step.verdicts);
    let number = |ruling| verdicts().filter(|verdict| verdict.ruling == ruling).count();
    let expectations = format!("{} of {} met", number(Ruling::Met), count(verdicts().count(), "expectation"));
    let time = format!("rig time {}", rig_time(record.end.at_ns));
    let done = |outcome| record.steps.iter().filter(|step| step.outcome == outcome).count();
    match record.end.outcome {
        RunOutcome::Passed => format!("{steps}, {expectations}; {time}"),
        RunOutcome::Failed if done(StepOutcome::Failed) == 0 => {
            let violated = record.end.edges.as_ref().map_or(0, |edges| edges.violated);
            let objections = record.end.capture.as_ref().map_or(0, |capture| capture.objections.len());
            let against = if violated > 0 {
                format!("{violated} times of the bridge's edges outside the datasheets' limits")
            } else {
                format!("{} to the recorded line", count(objections, "objection"))
            };
            format!("{against}; {steps}, {expectations}; {time}")
        }
        RunOutcome::Failed => {
            format!("{} of {steps} ({}), {expectations}; {time}", done(StepOutcome::Failed), which(StepOutcome::Failed))
        }
        RunOutcome::Incomplete => {
            let cannot = match done(StepOutcome::NotPossible) {
                0 => format!("a part of the recorded line was not judged; {steps}"),
                _ => format!("{} of {steps} not possible on this rig", which(StepOutcome::NotPossible)),
            };
            format!("{cannot}, {expectations}; {time}")
        }
        RunOutcome::Interrupted => {
            let not_run = done(StepOutcome::NotRun);
            format!("{not_run} of {steps} not run, {expectations} up to there; {time}")
        }
        RunOutcome::Broken => {
            let breakage = record.end.breakage.as_ref();
            let what = breakage.map_or(String::new(), |Breakage { step, text, .. }| match step.as_slice() {
                [] => text.clone(),
                step => format!("{text} (step {})", place(step)),
            });
            format!("{what}; nothing can be said about the sensors; {time}")
        }
    }
}

/// A table of the inventory: how often each was read, its last number, its largest error, and its expectations. Empty if
/// nothing was expected of anybody.
pub(super) fn sensors(look: &TextLook, record: &Record) -> Vec<String> {
    let rows: Vec<Vec<String>> = record
        .rig
        .inventory
        .iter()
        .map(|sensor| row(record, &Subject { label: Some(sensor.label.clone()), rom: sensor.rom }, sensor.part.part()))
        .collect();
    if rows.iter().all(|row| row.last() == Some(&nothing())) {
        return Vec::new();
    }
    let heading = vec!["sensor", "ROM code", "part", "readings", "last", "off by at most", "met", "verdict"];
    let right = &["readings", "last", "off by at most", "met"];
    let mut lines = vec![String::new()];
    lines.extend(table(look, Grid { heading, right, rows }).into_iter().map(painted));
    lines
}

fn row(record: &Record, sensor: &Subject, part: &str) -> Vec<String> {
    let verdicts = || {
        let all = record.steps.iter().flat_map(|step| &step.verdicts);
        all.filter(|verdict| verdict.sensor.as_ref() == Some(sensor))
    };
    let numbers: Vec<&ReadNumber> = record
        .steps
        .iter()
        .filter_map(|step| match &step.data {
            StepData::Readings { readings, .. } => Some(readings),
            _ => None,
        })
        .flatten()
        .filter(|reading| reading.sensor == *sensor)
        .filter_map(|reading| match &reading.outcome {
            ReadingOutcome::Read(number) => Some(number),
            ReadingOutcome::Failed(_) => None,
        })
        .collect();
    let (expected, met) = (verdicts().count(), verdicts().filter(|verdict| verdict.is_met()).count());
    vec![
        label(sensor),
        sensor.rom.to_string(),
        part.to_owned(),
        numbers.len().to_string(),
        numbers.last().map_or_else(nothing, |number| number.text()),
        worst_distance(verdicts()).unwrap_or_else(nothing),
        format!("{met} of {expected}"),
        if expected == 0 { nothing() } else { worst(verdicts()).word().into() },
    ]
}
