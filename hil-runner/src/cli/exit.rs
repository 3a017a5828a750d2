//! What the shell is told.

use std::process::ExitCode;

use crate::record::RunOutcome;

/// The end of the program, in rising order of weight: the heaviest of several is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Exit {
    /// All expectations were met; for `scan` and `read`: every sensor is there and gave a number without a doubt.
    AllMet,
    /// Some expectations were not met, or could not be checked: on this rig, or because the run was interrupted.
    NotAllMet,
    /// The command line, a file or the folder for the results is not as it must be, or results could not be written, to the
    /// folder or to standard output. If it was found before the run, nothing was run.
    BadInput,
    /// The rig is broken, so nothing can be said about the sensors.
    RigBroken,
}

impl Exit {
    /// The exit code.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::AllMet => 0,
            Self::NotAllMet => 1,
            Self::BadInput => 2,
            Self::RigBroken => 3,
        }
    }

    /// What it means, in a few words.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::AllMet => "all expectations met",
            Self::NotAllMet => "some expectations not met, or not checked",
            Self::BadInput => "bad input or usage",
            Self::RigBroken => "the rig is broken",
        }
    }
}

impl From<RunOutcome> for Exit {
    fn from(outcome: RunOutcome) -> Self {
        match outcome {
            RunOutcome::Passed => Self::AllMet,
            // A run that was not finished must not look passed.
            RunOutcome::Failed | RunOutcome::Incomplete | RunOutcome::Interrupted => Self::NotAllMet,
            RunOutcome::Broken => Self::RigBroken,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        exit.code().into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_those_that_are_documented() {
        let codes = [Exit::AllMet, Exit::NotAllMet, Exit::BadInput, Exit::RigBroken].map(Exit::code);
        assert_eq!(codes, [0, 1, 2, 3]);
    }

    #[test]
    fn only_a_run_that_passed_looks_passed() {
        for outcome in [RunOutcome::Failed, RunOutcome::Incomplete, RunOutcome::Interrupted, RunOutcome::Broken] {
            assert_ne!(Exit::from(outcome), Exit::AllMet);
        }
        assert_eq!(Exit::from(RunOutcome::Passed), Exit::AllMet);
    }

    #[test]
    fn a_broken_rig_outweighs_a_failed_expectation() {
        assert_eq!(Exit::NotAllMet.max(Exit::RigBroken), Exit::RigBroken);
    }
}
