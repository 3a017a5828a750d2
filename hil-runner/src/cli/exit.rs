//! Exit codes, and what each means.

use std::process::ExitCode;

use slotwise_record::RunOutcome;

/// The end of the program, in rising order of severity: of several the most severe becomes the exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Exit {
    /// All expectations were met; for `scan` and `read`: every sensor answered with a reading without a doubt.
    AllMet,
    /// Some expectations were not met, or could not be checked on this rig or because the run was interrupted. Or all
    /// were met, and the history shows a change against earlier runs.
    NotAllMet,
    /// The command line, an input file or the folder for results is invalid, and nothing was run; or results were lost,
    /// because they could not be written or this computer ran short of disk, memory or file handles.
    BadInput,
    /// The rig is broken, so the run says nothing about the sensors.
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

    /// The last line of a run or a night. `without_changes` is the exit code without the changes against earlier runs.
    #[must_use]
    pub fn line(self, without_changes: Self) -> String {
        let meaning = match (self, without_changes) {
            (Self::NotAllMet, Self::AllMet) => {
                "all expectations met, but something has changed against the runs before"
            }
            _ => self.meaning(),
        };
        format!("exit code {}: {meaning}", self.code())
    }

    /// What it means, in a few words.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::AllMet => "all expectations met",
            Self::NotAllMet => "some expectations not met, or not checked",
            Self::BadInput => "bad input or usage, or results were lost",
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
    fn a_change_alone_is_no_expectation_that_was_not_met() {
        let changed = "exit code 1: all expectations met, but something has changed against the runs before";
        assert_eq!(Exit::NotAllMet.line(Exit::AllMet), changed);
        assert_eq!(Exit::NotAllMet.line(Exit::NotAllMet), "exit code 1: some expectations not met, or not checked");
        assert_eq!(Exit::RigBroken.line(Exit::RigBroken), "exit code 3: the rig is broken");
    }

    #[test]
    fn a_broken_rig_outweighs_a_failed_expectation() {
        assert_eq!(Exit::NotAllMet.max(Exit::RigBroken), Exit::RigBroken);
    }
}
