//! Steps that used to pass.

use super::about::About;
use super::counts::at_least;
use super::detect::{Against, STILL_REMARKABLE};
use super::past::decided;
use slotwise_past::{Finding, Matter};
use slotwise_record::StepOutcome;

/// Fewest runs in which a step must have passed before it "used to".
const FEWEST: usize = 2;

/// The newest runs that are held against those before, where a step fails now and then. Chosen.
const NEWEST: [usize; 2] = [3, 6];

pub(super) fn detect(against: &Against<'_>, now: &[(String, StepOutcome)], share: f64) -> Vec<Finding> {
    let failing = now.iter().filter(|(_, outcome)| decided(*outcome) == Some(false));
    failing.filter_map(|(label, _)| finding(against, label, share)).collect()
}

/// How many tests the steps are put to, whether they fail or not. Those that never failed need none.
pub(super) fn tests(against: &Against<'_>, now: &[(String, StepOutcome)]) -> usize {
    let decided = now.iter().filter(|(_, outcome)| decided(*outcome).is_some());
    let past = decided.filter_map(|(label, _)| against.past.steps.get(label)).filter(|past| past.contains(&false));
    past.map(|past| NEWEST.iter().filter(|newest| parts(past, **newest).is_some()).count()).sum()
}

/// The outcomes before the newest runs, and theirs: the run that is asked about is one of these, and not in the past.
fn parts(past: &[bool], newest: usize) -> Option<(&[bool], &[bool])> {
    let (old, new) = past.split_at(past.len().checked_sub(newest - 1)?);
    (!old.is_empty()).then_some((old, new))
}

fn finding(against: &Against<'_>, label: &str, share: f64) -> Option<Finding> {
    let past = against.past.steps.get(label)?;
    let matter = Matter::Step { label: label.to_owned() };
    let about = About::Step(label.to_owned());
    let stands = against.standing.contains(&about);
    if !past.contains(&false) {
        // A standing finding is repeated, however short its past.
        let but_for = against.past.but_for(&about);
        let text = format!("step \"{label}\" fails, which passed in each of {} runs before{but_for}", past.len());
        return (past.len() >= FEWEST || stands).then_some(Finding { matter, text });
    }
    let limit = if stands { STILL_REMARKABLE } else { share };
    NEWEST.into_iter().find_map(|newest| {
        let (old, new) = parts(past, newest)?;
        let failed = |outcomes: &[bool]| outcomes.iter().filter(|passed| !**passed).count() as u64;
        let events = failed(new) + 1;
        let chance = at_least(events, newest as u64, failed(old), old.len() as u64);
        let text = format!(
            "step \"{label}\" fails more often: in {events} of the last {newest} runs, and in {} of {} before",
            failed(old),
            old.len()
        );
        (chance < limit).then(|| Finding { matter: matter.clone(), text })
    })
}
