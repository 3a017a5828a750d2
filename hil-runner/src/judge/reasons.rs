//! Reasons for a failure, in words.

use crate::scenario::FailureKind;

impl FailureKind {
    /// What a report calls it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Nobody => "nobody on the line",
            Self::StuckLow => "line stuck low",
            Self::NeverIdleHigh => "line never idle high",
            Self::Disturbed => "line disturbed",
            Self::NoStrongPullUp => "no strong pull-up",
            Self::NoAnswer => "no answer",
            Self::AllZeros => "all bits 0",
            Self::Crc => "wrong CRC",
            Self::ImpossibleConfiguration => "impossible configuration byte",
            Self::SignBits => "sign bits disagree",
            Self::ImpossibleCounters => "impossible counters",
            Self::NotStarted => "no conversion started",
            Self::StillBusy => "still busy",
            Self::NotTaken => "write not taken",
            Self::SearchLost => "search lost",
        }
    }
}

/// Reasons for failing, as an expectation.
#[must_use]
pub(crate) fn reasons_text(reasons: &[FailureKind]) -> String {
    let words: Vec<&str> = reasons.iter().map(|reason| reason.words()).collect();
    format!("failure: {}", words.join(" or "))
}
