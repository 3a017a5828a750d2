//! Whether the parts of a record agree: an end that its steps do not lead to, or a step that its verdicts do not, is of no run.

use super::{Record, RunOutcome, StepData, StepOutcome, StepRecord};
use crate::Ruling;

/// Checks that the end of a run is what its steps lead to, and the outcome of each step what its verdicts lead to.
pub(super) fn check(record: &Record) -> Result<(), String> {
    for step in &record.steps {
        check_step(step)?;
        if step.ended_ns > record.end.at_ns {
            return Err(format!("step \"{}\" ends after the run does", step.label));
        }
    }
    let end = record.end.outcome;
    if (end == RunOutcome::Broken) != record.end.breakage.is_some() {
        return Err(format!("its end is {}, which does not agree with what it says is broken", end.word()));
    }
    let (listed, all) = (record.steps.len(), record.scenario.steps.len());
    if listed != all && end != RunOutcome::Interrupted {
        return Err(format!("its end is {}, but {listed} of {all} steps are listed", end.word()));
    }
    let has = |outcome| record.steps.iter().find(|step| step.outcome == outcome);
    let edges = record.end.edges.as_ref().is_some_and(|edges| edges.violated > 0)
        || record.end.capture.as_ref().is_some_and(|capture| !capture.objections.is_empty());
    let not_judged = record.end.capture.as_ref().is_some_and(|capture| !capture.not_judged.is_empty());
    let broken = has(StepOutcome::Broken);
    let stopped = broken.or_else(|| has(StepOutcome::Interrupted)).or_else(|| has(StepOutcome::NotRun));
    let failed = has(StepOutcome::Failed);
    // The step that speaks against this end, if there is one.
    let against = match end {
        RunOutcome::Passed => stopped.or(failed).or_else(|| has(StepOutcome::NotPossible)),
        RunOutcome::Incomplete => stopped.or(failed),
        RunOutcome::Failed => stopped,
        RunOutcome::Interrupted => broken,
        RunOutcome::Broken => None,
    };
    if let Some(step) = against {
        let found = word(step.outcome);
        return Err(format!("its end is {}, but step \"{}\" is {found}", end.word(), step.label));
    }
    // And something must speak for it.
    match end {
        RunOutcome::Passed | RunOutcome::Incomplete if edges => Err(format!(
            "its end is {}, but edges of the bridge, or what the run recorded of its line, speak against it",
            end.word()
        )),
        RunOutcome::Failed if failed.is_none() && !edges => Err(format!(
            "its end is {}, but no step failed, and neither edges nor the recorded line speak against it",
            end.word()
        )),
        RunOutcome::Passed if not_judged => {
            Err(format!("its end is {}, but a part of its recorded line was not judged", end.word()))
        }
        RunOutcome::Incomplete if has(StepOutcome::NotPossible).is_none() && !not_judged => {
            Err(format!("its end is {}, but every step passed", end.word()))
        }
        _ => Ok(()),
    }
}

/// Checks a step, and those of the rounds that were kept of it.
fn check_step(step: &StepRecord) -> Result<(), String> {
    if step.started_ns > step.ended_ns {
        return Err(format!("step \"{}\" ends before it begins", step.label));
    }
    let has = |ruling| step.verdicts.iter().any(|verdict| verdict.ruling == ruling);
    let agrees = match step.outcome {
        StepOutcome::Passed => !has(Ruling::NotMet) && !has(Ruling::CannotTell),
        StepOutcome::Failed => has(Ruling::NotMet),
        StepOutcome::NotPossible => !has(Ruling::NotMet),
        StepOutcome::NotRun => step.verdicts.is_empty(),
        // Whatever came before that.
        StepOutcome::Broken | StepOutcome::Interrupted => true,
    };
    if !agrees {
        return Err(format!("step \"{}\" is {}, which its verdicts do not agree with", step.label, word(step.outcome)));
    }
    if let StepData::Rounds(rounds) = &step.data {
        rounds.kept.iter().flat_map(|round| &round.steps).try_for_each(check_step)?;
    }
    Ok(())
}

const fn word(outcome: StepOutcome) -> &'static str {
    match outcome {
        StepOutcome::Passed => "passed",
        StepOutcome::Failed => "failed",
        StepOutcome::Broken => "broken",
        StepOutcome::NotPossible => "not possible",
        StepOutcome::Interrupted => "interrupted",
        StepOutcome::NotRun => "not run",
    }
}
