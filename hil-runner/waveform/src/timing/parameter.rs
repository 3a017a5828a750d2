//! The times that are seen on a line, under their names in the datasheets.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

/// Whose a time is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum LineDriver {
    /// The master's.
    Master,
    /// A sensor's.
    Sensor,
}

/// A time on a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum LineTime {
    /// tRSTL: low time of a reset pulse.
    ResetLow,
    /// tRSTH: from the rise after a reset pulse to the master's next falling edge.
    ResetHigh,
    /// tPDHIGH: from the rise after a reset pulse to the presence pulse.
    PresenceDelay,
    /// tPDLOW: low time of the presence pulse.
    PresenceLow,
    /// tLOW0: low time of a slot that writes 0.
    WriteZeroLow,
    /// tLOW1: low time of a slot that writes 1.
    WriteOneLow,
    /// Low time of a read slot in which no sensor holds the line: the master must release it before it samples.
    ReadLow,
    /// tRDV and what follows it: low time of a read slot in which a sensor sends 0.
    ReadZeroLow,
    /// tSLOT and tREC together: from falling edge to falling edge.
    Slot,
    /// tREC: from the rise of a slot to the next falling edge.
    Recovery,
}

impl LineTime {
    /// The symbol of the datasheets, or a short name where there is none.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::ResetLow => "tRSTL",
            Self::ResetHigh => "tRSTH",
            Self::PresenceDelay => "tPDHIGH",
            Self::PresenceLow => "tPDLOW",
            Self::WriteZeroLow => "tLOW0",
            Self::WriteOneLow => "tLOW1",
            Self::ReadLow => "read 1",
            Self::ReadZeroLow => "read 0",
            Self::Slot => "tSLOT+tREC",
            Self::Recovery => "tREC",
        }
    }

    /// What it is the time of.
    #[must_use]
    pub const fn what(self) -> &'static str {
        match self {
            Self::ResetLow => "reset low",
            Self::ResetHigh => "reset high",
            Self::PresenceDelay => "rise to presence",
            Self::PresenceLow => "presence low",
            Self::WriteZeroLow => "write 0 low",
            Self::WriteOneLow => "write 1 low",
            Self::ReadLow => "low in a read 1",
            Self::ReadZeroLow => "low in a read 0",
            Self::Slot => "edge to edge",
            Self::Recovery => "high to next edge",
        }
    }

    /// Whose it is.
    #[must_use]
    pub const fn driver(self) -> LineDriver {
        match self {
            Self::PresenceDelay | Self::PresenceLow | Self::ReadZeroLow => LineDriver::Sensor,
            _ => LineDriver::Master,
        }
    }
}
