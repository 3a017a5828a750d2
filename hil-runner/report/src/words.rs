//! The words of the reports, and the ink for each.

use super::look::Ink;
use slotwise_record::{Ruling, RunOutcome, StepOutcome};

/// The caution of every report that has none of its scenario.
pub const CAUTION: &str = "not a certified measuring instrument: no reliance for food, medical, fire or process safety; keep the line away from \
                           mains wiring; follow local codes and licensed practice";

/// Every outcome of a step is one word of at most so many letters, so that steps line up.
pub(super) const OUTCOME_WIDTH: usize = 7;

impl From<StepOutcome> for Ink {
    fn from(of: StepOutcome) -> Self {
        match of {
            StepOutcome::Passed => Self::Good,
            StepOutcome::Failed | StepOutcome::Broken => Self::Bad,
            StepOutcome::NotPossible | StepOutcome::Interrupted => Self::Odd,
            StepOutcome::NotRun => Self::Faint,
        }
    }
}

impl From<RunOutcome> for Ink {
    fn from(of: RunOutcome) -> Self {
        match of {
            RunOutcome::Passed => Self::Good,
            RunOutcome::Failed | RunOutcome::Broken => Self::Bad,
            RunOutcome::Incomplete | RunOutcome::Interrupted => Self::Odd,
        }
    }
}

impl From<Ruling> for Ink {
    fn from(of: Ruling) -> Self {
        match of {
            Ruling::Met => Self::Good,
            Ruling::NotMet => Self::Bad,
            Ruling::CannotTell => Self::Odd,
        }
    }
}
