//! The times that are judged, under their names in the datasheets.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A time that the master must keep.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Parameter {
    /// tRSTL: low time of a reset pulse.
    ResetLow,
    /// tRSTH: from the release of a reset pulse to the next falling edge.
    ResetHigh,
    /// Longest time without a look while a presence pulse may begin: the shortest legal pulse must not pass unseen.
    PresenceGap,
    /// Last look for presence after the release: the latest legal pulse must not come after it.
    PresenceLast,
    /// tLOW0: low time of a write-0 slot.
    WriteZeroLow,
    /// tLOW1: low time of a write-1 or read slot. At the pin the two are the same.
    WriteOneLow,
    /// tINT: low time that starts a slot which is looked at.
    ReadStart,
    /// tRDV: from the falling edge of a slot to the look at its bit.
    ReadSample,
    /// tSLOT and tREC together: from the falling edge of a slot to the next falling edge.
    Slot,
    /// tREC: from the release of a slot to the next falling edge.
    Recovery,
    /// tSPON: from the rising edge of the last bit to the closing of the strong pull-up.
    PowerOn,
    /// From the opening of the strong pull-up to the next falling edge.
    PowerOff,
}

impl Parameter {
    /// How many there are.
    pub const COUNT: usize = Self::ALL.len();

    /// All of them, in the order of reports.
    pub const ALL: [Self; 12] = [
        Self::ResetLow,
        Self::ResetHigh,
        Self::PresenceGap,
        Self::PresenceLast,
        Self::WriteZeroLow,
        Self::WriteOneLow,
        Self::ReadStart,
        Self::ReadSample,
        Self::Slot,
        Self::Recovery,
        Self::PowerOn,
        Self::PowerOff,
    ];

    /// A short name: the symbol of the datasheets where there is one.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::ResetLow => "tRSTL",
            Self::ResetHigh => "tRSTH",
            Self::PresenceGap => "presence gap",
            Self::PresenceLast => "presence last",
            Self::WriteZeroLow => "tLOW0",
            Self::WriteOneLow => "tLOW1",
            Self::ReadStart => "tINT",
            Self::ReadSample => "tRDV",
            Self::Slot => "tSLOT+tREC",
            Self::Recovery => "tREC",
            Self::PowerOn => "tSPON",
            Self::PowerOff => "power off",
        }
    }

    /// What it is the time of.
    #[must_use]
    pub const fn what(self) -> &'static str {
        match self {
            Self::ResetLow => "reset low",
            Self::ResetHigh => "reset high",
            Self::PresenceGap => "time without a look",
            Self::PresenceLast => "last presence look",
            Self::WriteZeroLow => "write 0 low",
            Self::WriteOneLow => "write 1 or read low",
            Self::ReadStart => "low before a look",
            Self::ReadSample => "falling edge to look",
            Self::Slot => "edge to edge",
            Self::Recovery => "high to next edge",
            Self::PowerOn => "last bit to power on",
            Self::PowerOff => "power off to edge",
        }
    }

    /// Its place in [`ALL`](Self::ALL).
    pub const fn place(self) -> usize {
        self as usize
    }
}
