//! The words of the reports, and the ink for each.

use super::look::Ink;
use crate::record::{Check, Ruling};
use crate::record::{RunOutcome, StepOutcome};

/// The caution of every report that has none of its scenario.
pub const CAUTION: &str = "not a certified measuring instrument: no reliance for food, medical, fire or process safety; keep the line away from \
                           mains wiring; follow local codes and licensed practice";

/// Every outcome of a step is one word of at most so many letters, so that steps line up.
pub(super) const OUTCOME_WIDTH: usize = 7;

impl StepOutcome {
    /// What a report calls it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Passed => "passed",
            Self::Failed => "FAILED",
            Self::Broken => "BROKEN",
            Self::NotPossible => "CANNOT",
            Self::Interrupted => "STOPPED",
            Self::NotRun => "not run",
        }
    }

    pub(super) const fn ink(self) -> Ink {
        match self {
            Self::Passed => Ink::Good,
            Self::Failed | Self::Broken => Ink::Bad,
            Self::NotPossible | Self::Interrupted => Ink::Odd,
            Self::NotRun => Ink::Faint,
        }
    }
}

impl RunOutcome {
    /// What a report calls it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Passed => "PASSED",
            Self::Failed => "FAILED",
            Self::Incomplete => "INCOMPLETE",
            Self::Interrupted => "INTERRUPTED",
            Self::Broken => "BROKEN",
        }
    }

    pub(super) const fn ink(self) -> Ink {
        match self {
            Self::Passed => Ink::Good,
            Self::Failed | Self::Broken => Ink::Bad,
            Self::Incomplete | Self::Interrupted => Ink::Odd,
        }
    }
}

impl Ruling {
    /// What a report calls it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::NotMet => "NOT MET",
            Self::CannotTell => "CANNOT TELL",
        }
    }

    pub(super) const fn ink(self) -> Ink {
        match self {
            Self::Met => Ink::Good,
            Self::NotMet => Ink::Bad,
            Self::CannotTell => Ink::Odd,
        }
    }
}

impl Check {
    /// What a report calls it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Presence => "presence",
            Self::Search => "search",
            Self::Supply => "power",
            Self::Conversion => "conversion",
            Self::Reading => "reading",
            Self::Number => "number",
            Self::Published => "published point",
            Self::Doubts => "doubts",
            Self::DoubtNamed => "doubt",
            Self::Near => "near",
            Self::Stable => "stability",
            Self::Agree => "agreement",
            Self::Quantised => "quantised",
            Self::InTime => "in time",
            Self::Fails => "failure",
            Self::Settings => "settings",
            Self::Saved => "EEPROM",
            Self::Alarm => "alarm",
            Self::Rounds => "rounds",
        }
    }
}
