//! Steps: those that did not pass in full, and all in a table.

use super::page::{Failure, Step, Tone, Unmet};
use crate::step::place;
use slotwise_record::Verdict;
use slotwise_record::{Record, StepData, StepOutcome, StepRecord, Tally};
use slotwise_terms::units::rig_time;

/// Expectations of one step that are shown.
const SHOWN: usize = 12;
/// Steps in the table.
const ROWS: usize = 2_000;

/// Whether it is shown in full: something was done, and did not go well.
const fn is_shown_in_full(outcome: StepOutcome) -> bool {
    matches!(outcome, StepOutcome::Failed | StepOutcome::Broken | StepOutcome::NotPossible | StepOutcome::Interrupted)
}

fn id_of(run: &str, step: &StepRecord) -> String {
    format!("{run}-step-{}", place(&step.place).replace('.', "-"))
}

pub(super) fn failures(record: &Record, run: &str) -> Vec<Failure> {
    record.steps.iter().filter(|step| is_shown_in_full(step.outcome)).map(|step| failure(step, run)).collect()
}

fn failure(step: &StepRecord, run: &str) -> Failure {
    let mut unmet = Vec::new();
    gather(step, None, &mut unmet);
    let more = unmet.len().saturating_sub(SHOWN);
    unmet.truncate(SHOWN);
    Failure {
        id: id_of(run, step),
        heading: format!("Step {}: {} ({})", place(&step.place), step.label, step.outcome.word()),
        tone: Tone::of(step.outcome),
        reason: step.reason.clone(),
        verdicts: unmet,
        more,
    }
}

/// What speaks against a step, and against the rounds of it that were kept.
fn gather(step: &StepRecord, round: Option<u32>, unmet: &mut Vec<Unmet>) {
    unmet.extend(step.verdicts.iter().filter(|verdict| !verdict.is_met()).map(|verdict| of(verdict, round)));
    if let StepData::Rounds(rounds) = &step.data {
        for round in rounds.kept.iter().filter(|round| round.outcome != StepOutcome::Passed) {
            for inner in &round.steps {
                gather(inner, Some(round.number), unmet);
            }
        }
    }
}

fn of(verdict: &Verdict, round: Option<u32>) -> Unmet {
    let what = verdict.check.words();
    Unmet {
        sensor: verdict.sensor.as_ref().map_or("the line".into(), ToString::to_string),
        what: round.map_or_else(|| what.to_owned(), |round| format!("{what}, round {round}")),
        expected: verdict.expected.clone(),
        source: verdict.source.clone(),
        got: verdict.got.clone(),
    }
}

pub(super) fn all(record: &Record, run: &str) -> Vec<Step> {
    record
        .steps
        .iter()
        .take(ROWS)
        .map(|step| {
            let tally = Tally::of(&step.verdicts);
            let of = tally.met + tally.not_met + tally.cannot_tell;
            Step {
                place: place(&step.place),
                label: step.label.clone(),
                word: step.outcome.word(),
                tone: Tone::of(step.outcome),
                met: if of == 0 { "none asked".into() } else { format!("{} of {of}", tally.met) },
                took: rig_time(step.ended_ns.saturating_sub(step.started_ns)),
                failure: is_shown_in_full(step.outcome).then(|| id_of(run, step)),
            }
        })
        .collect()
}
