//! What people call outcomes, rulings and checks.

use super::{Check, Ruling, RunOutcome, StepOutcome};

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
