//! Reasons for a failure, and their words.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Reasons why there is no reading or no search result, as scenarios name them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum FailureKind {
    /// No sensor answered the reset.
    #[serde(rename = "nobody")]
    NoPresence,
    /// The line is low and stays low.
    StuckLow,
    /// The line rises too slowly.
    NeverIdleHigh,
    /// Another device drove the line.
    Disturbed,
    /// There is no strong pull-up where one is needed.
    NoStrongPullUp,
    /// This sensor did not answer.
    NoAnswer,
    /// All bits read 0.
    AllZeros,
    /// A CRC was wrong.
    Crc,
    /// The configuration byte cannot occur.
    ImpossibleConfiguration,
    /// Sign bits disagree.
    SignBits,
    /// Counters of a DS18S20 are impossible.
    ImpossibleCounters,
    /// No sensor started to convert.
    NotStarted,
    /// A sensor was still converting after the longest time.
    StillBusy,
    /// A write did not take.
    NotTaken,
    /// A search contradicted itself or fell silent.
    SearchLost,
    /// The bus master samples too late after a reset, though the line rises in time.
    MasterTooLate,
}

impl FailureKind {
    /// What a report calls it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoPresence => "no sensor on the line",
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
            Self::MasterTooLate => "bus master too late",
        }
    }
}

/// Reasons for failing, as an expectation.
#[must_use]
pub fn reasons_text(reasons: &[FailureKind]) -> String {
    let words: Vec<&str> = reasons.iter().map(|reason| reason.words()).collect();
    format!("failure: {}", words.join(" or "))
}
