//! How much a scenario asks for: steps one after the other, and the rig's time.

use super::keys;
use super::{Action, Bound, Fault, Step};
use crate::input::reader::{Read, Report};
use crate::input::table::Table;

/// Most steps that are done in all, repetitions counted.
const MAX_DONE: u128 = 1_000_000;
/// Most rig time that is asked for in all: a month.
const MAX_MS: u128 = 31 * 86_400_000;

/// What some steps ask for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Budget {
    done: u128,
    ms: u128,
}

impl Budget {
    fn of(steps: &[Step]) -> Self {
        steps.iter().map(Self::of_step).fold(Self::default(), |sum, step| Self {
            done: sum.done.saturating_add(step.done),
            ms: sum.ms.saturating_add(step.ms),
        })
    }

    fn of_step(step: &Step) -> Self {
        let lasting = |ms: u64| Self { done: 1, ms: u128::from(ms) };
        match &step.action {
            Action::Wait { ms } => lasting(*ms),
            Action::PowerCycle { off_ms } => lasting(*off_ms),
            Action::Inject(Fault::BrownOut { ms, .. }) => lasting(u64::from(*ms)),
            Action::Repeat { bound, steps, .. } => {
                let round = Self::of(steps);
                match bound {
                    Bound::Times(times) => Self {
                        done: round.done.saturating_mul(u128::from(*times)),
                        ms: round.ms.saturating_mul(u128::from(*times)),
                    },
                    // The last round may begin right before the end.
                    Bound::ForMs(ms) => Self { done: round.done, ms: round.ms.saturating_add(u128::from(*ms)) },
                }
            }
            _ => lasting(0),
        }
    }
}

/// Checks that all steps together stay inside what a run may take.
pub(super) fn check(top: &Table<'_, '_>, steps: &[Step]) -> Read<()> {
    let Budget { done, ms } = Budget::of(steps);
    let complain = |expected: String, found: String| {
        let span = top.entry(&keys::STEP).map_or(top.span(), |entry| entry.value.span());
        Err(top.reader().report(span, || Report::unexpected(expected, found)))
    };
    if done > MAX_DONE {
        return complain(format!("at most {MAX_DONE} steps, repetitions counted"), done.to_string());
    }
    if ms > MAX_MS {
        return complain(
            "waits and repetitions of at most 31 days in all".to_owned(),
            format!("{} days", ms / 86_400_000),
        );
    }
    Ok(())
}

/// Whether a step lets the rig's time pass, whatever happens.
pub(super) fn takes_time(step: &Step) -> bool {
    match &step.action {
        Action::Ambient { .. } | Action::Clear(_) => false,
        Action::Inject(fault) => matches!(fault, Fault::BrownOut { .. }),
        Action::Repeat { steps, .. } => steps.iter().any(takes_time),
        Action::Find { .. }
        | Action::Configure { .. }
        | Action::Measure(_)
        | Action::AlarmSearch { .. }
        | Action::PowerCycle { .. }
        | Action::Wait { .. } => true,
    }
}
