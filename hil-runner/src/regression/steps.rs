//! Steps that used to pass.

use super::counts::at_least;
use super::detect::{Against, BUDGET};
use super::finding::{About, Finding, Matter};
use super::past::decided;
use crate::record::StepOutcome;

/// Fewest runs in which a step must have passed before it "used to".
const FEWEST: usize = 2;

/// The newest runs that are held against those before, where a step fails now and then. Chosen.
const NEWEST: [usize; 2] = [3, 6];

pub(super) fn detect(against: &Against<'_>, now: &[(String, StepOutcome)]) -> Vec<Finding> {
    let failing = now.iter().filter(|(_, outcome)| decided(*outcome) == Some(false));
    failing.filter_map(|(label, _)| finding(against, label, now.len())).collect()
}

fn finding(against: &Against<'_>, label: &str, steps: usize) -> Option<Finding> {
    let past = against.past.steps.get(label)?;
    let matter = Matter::Step { label: label.to_owned() };
    let failures = past.iter().filter(|passed| !**passed).count();
    if failures == 0 {
        // One that stands is told again, however short its past.
        let stands = against.standing.contains(&About::Step(label.to_owned()));
        let text = format!("step \"{label}\" fails, which passed in each of {} runs before", past.len());
        return (past.len() >= FEWEST || stands).then_some(Finding { matter, text });
    }
    // The budget is shared by the steps, each asked in two ways.
    let share = BUDGET / (steps * NEWEST.len()) as f64;
    NEWEST.into_iter().find_map(|newest| {
        let before = past.len().checked_sub(newest - 1)?;
        let failed = |outcomes: &[bool]| outcomes.iter().filter(|passed| !**passed).count() as u64;
        let (old, new) = past.split_at(before);
        let events = failed(new) + 1;
        let chance = at_least(events, newest as u64, failed(old), old.len() as u64);
        let text = format!(
            "step \"{label}\" fails more often: in {events} of the last {newest} runs, and in {} of {} before",
            failed(old),
            old.len()
        );
        (!old.is_empty() && chance < share).then(|| Finding { matter: matter.clone(), text })
    })
}
