//! The figures of a run that are watched from night to night.

use std::fmt;

use serde::{Deserialize, Serialize};
use slotwise::bus::RomCode;

/// What a figure is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FigureKind {
    /// Readings that failed, of those tried, of one sensor. Steps in which they must fail are not counted.
    FailedReadings,
    /// Rounds of repetitions that failed, of those begun.
    FailedRounds,
    /// Requests that had to be sent again to the bridge, of those carried out.
    RepeatedRequests,
    /// Mean conversion time of one sensor at one resolution, in microseconds.
    ConversionTime,
    /// Mean rise time of the line to the input threshold, in nanoseconds.
    RiseTime,
    /// Mean delay of the presence pulse, in nanoseconds.
    PresenceDelay,
    /// Mean width of the presence pulse of all sensors together, in nanoseconds.
    PresenceWidth,
    /// Mean distance of a sensor from the median of all that were measured with it, in thousandths of a degree.
    FromNeighbours,
    /// Whether a sensor was found: in how many searches, of all in which it could have been.
    Found,
    /// Flash that the firmware takes, in bytes.
    Flash,
    /// Memory that its statics take, in bytes.
    Statics,
}

impl FigureKind {
    /// All of them.
    pub const ALL: [Self; 11] = [
        Self::FailedReadings,
        Self::FailedRounds,
        Self::RepeatedRequests,
        Self::ConversionTime,
        Self::RiseTime,
        Self::PresenceDelay,
        Self::PresenceWidth,
        Self::FromNeighbours,
        Self::Found,
        Self::Flash,
        Self::Statics,
    ];

    /// Its name in the history, in exports and in metrics.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::FailedReadings => "failed-readings",
            Self::FailedRounds => "failed-rounds",
            Self::RepeatedRequests => "repeated-requests",
            Self::ConversionTime => "conversion-time",
            Self::RiseTime => "rise-time",
            Self::PresenceDelay => "presence-delay",
            Self::PresenceWidth => "presence-width",
            Self::FromNeighbours => "from-neighbours",
            Self::Found => "found",
            Self::Flash => "flash",
            Self::Statics => "statics",
        }
    }

    /// The figure of this name.
    #[must_use]
    pub fn of_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// What people call it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::FailedReadings => "failed readings",
            Self::FailedRounds => "failed rounds",
            Self::RepeatedRequests => "repeated requests",
            Self::ConversionTime => "conversion time",
            Self::RiseTime => "rise time of the line",
            Self::PresenceDelay => "presence pulse, delay",
            Self::PresenceWidth => "presence pulse, width",
            Self::FromNeighbours => "distance from its neighbours",
            Self::Found => "found by searches",
            Self::Flash => "flash of the firmware",
            Self::Statics => "statics of the firmware",
        }
    }

    /// Whether it counts events among tries, and is no measured value.
    #[must_use]
    pub const fn is_count(self) -> bool {
        matches!(self, Self::FailedReadings | Self::FailedRounds | Self::RepeatedRequests | Self::Found)
    }

    /// Unit of a measured value, as people write it, and how many of the stored unit make one.
    #[must_use]
    pub const fn unit(self) -> (&'static str, f64) {
        match self {
            Self::ConversionTime => ("ms", 1_000.0),
            Self::RiseTime | Self::PresenceDelay | Self::PresenceWidth => ("us", 1_000.0),
            Self::FromNeighbours => ("degC", 1_000.0),
            Self::Flash | Self::Statics => ("B", 1.0),
            Self::FailedReadings | Self::FailedRounds | Self::RepeatedRequests | Self::Found => ("", 1.0),
        }
    }
}

/// What a figure belongs to.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FigureSubject {
    /// The line, the link or the firmware as a whole.
    Whole,
    /// One sensor, and the resolution in bits where that matters.
    Sensor {
        /// Its ROM code.
        rom: RomCode,
        /// Resolution.
        bits: Option<u8>,
    },
}

impl FigureSubject {
    /// A sensor, whatever its resolution.
    #[must_use]
    pub const fn sensor(rom: RomCode) -> Self {
        Self::Sensor { rom, bits: None }
    }

    /// The sensor, if it is one.
    #[must_use]
    pub const fn rom(&self) -> Option<RomCode> {
        match self {
            Self::Whole => None,
            Self::Sensor { rom, .. } => Some(*rom),
        }
    }

    /// The subject written like this by `Display`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        if text.is_empty() {
            return Some(Self::Whole);
        }
        let (rom, bits) = match text.split_once('@') {
            Some((rom, bits)) => (rom, Some(bits.parse().ok()?)),
            None => (text, None),
        };
        Some(Self::Sensor { rom: rom.parse().ok()?, bits })
    }
}

impl fmt::Display for FigureSubject {
    /// As the history stores it: nothing for the whole, a ROM code, or a ROM code with `@12` for 12 bits.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Whole => Ok(()),
            Self::Sensor { rom, bits: None } => write!(f, "{rom}"),
            Self::Sensor { rom, bits: Some(bits) } => write!(f, "{rom}@{bits}"),
        }
    }
}

/// One figure of one run.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// What it is about.
    pub kind: FigureKind,
    /// What it belongs to.
    pub subject: FigureSubject,
    /// A count of events, or a measured mean in the unit of its kind.
    pub value: f64,
    /// Among how many tries, or from how many measurements.
    pub of: u64,
    /// How finely it was measured, in the same unit: no smaller change means anything. 0 for counts.
    pub grain: f64,
}

impl Figure {
    /// Its value as people read it, with its unit.
    #[must_use]
    pub fn text(&self) -> String {
        value_text(self.kind, self.value, self.of)
    }
}

/// A value of a figure as people read it, with its unit.
#[must_use]
pub fn value_text(kind: FigureKind, value: f64, of: u64) -> String {
    if kind.is_count() {
        return format!("{value:.0} of {of}");
    }
    let (unit, scale) = kind.unit();
    match kind {
        FigureKind::Flash | FigureKind::Statics => format!("{value:.0} {unit}"),
        FigureKind::FromNeighbours => format!("{:+.3} {unit}", value / scale),
        _ => format!("{:.2} {unit}", value / scale),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lead_back_to_their_figures() {
        for kind in FigureKind::ALL {
            assert_eq!(FigureKind::of_name(kind.name()), Some(kind));
            assert_eq!(serde_json::to_value(kind).unwrap(), kind.name());
        }
        assert_eq!(FigureKind::of_name("weight"), None);
    }

    #[test]
    fn subjects_lead_back_to_themselves() {
        let rom: RomCode = "28:EE94F7271601:8D".parse().unwrap();
        for subject in [FigureSubject::Whole, FigureSubject::sensor(rom), FigureSubject::Sensor { rom, bits: Some(9) }]
        {
            assert_eq!(FigureSubject::parse(&subject.to_string()), Some(subject));
        }
        for text in ["28", "28:EE94F7271601:8D@", "28:EE94F7271601:8D@twelve", "@12"] {
            assert_eq!(FigureSubject::parse(text), None, "{text}");
        }
    }

    #[test]
    fn values_are_written_with_their_units() {
        assert_eq!(value_text(FigureKind::ConversionTime, 585_937.5, 3), "585.94 ms");
        assert_eq!(value_text(FigureKind::FromNeighbours, -62.5, 3), "-0.062 degC");
        assert_eq!(value_text(FigureKind::FailedReadings, 2.0, 96), "2 of 96");
        assert_eq!(value_text(FigureKind::Flash, 38_700.0, 1), "38700 B");
    }
}
