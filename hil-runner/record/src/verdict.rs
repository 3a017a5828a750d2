//! A verdict: an expectation with its source, the value obtained, and whether the expectation is met.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Subject;

/// One expectation compared with the value obtained.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Verdict {
    /// What was looked at.
    pub check: Check,
    /// The sensor it is about. None: several, or the line.
    pub sensor: Option<Subject>,
    /// What was expected.
    pub expected: String,
    /// The source of the expectation: a datasheet with its table, the scenario or the rig.
    pub source: String,
    /// What came.
    pub got: String,
    /// Whether that is the same.
    pub ruling: Ruling,
    /// In what way it is not met; none if it is met or cannot be decided.
    pub miss: Option<Miss>,
    /// The two numbers, where two were compared.
    pub comparison: Option<Comparison>,
}

/// What a verdict looks at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Check {
    /// Who is on the line.
    Presence,
    /// That a search comes to its end.
    Search,
    /// How a sensor is powered.
    Supply,
    /// That a conversion comes to its end.
    Conversion,
    /// That there is a reading.
    Reading,
    /// That the number is the one that the datasheet gives for the bytes received.
    Number,
    /// That the bytes are a row of a published table.
    Published,
    /// That the driver names each reason for doubt that there is, and that no reason is there unexpectedly.
    Doubts,
    /// That a doubt is named that must be.
    DoubtNamed,
    /// Distance from a reference.
    Near,
    /// That a bath is stirred and stable.
    Stable,
    /// Distance of sensors from each other.
    Agree,
    /// Whole steps of the resolution.
    Quantised,
    /// Time of a conversion.
    InTime,
    /// That there is no reading, or nothing is taken, for a certain reason.
    Fails,
    /// What a sensor holds after a write.
    Settings,
    /// What its EEPROM holds.
    Saved,
    /// Who is in alarm.
    Alarm,
    /// How many rounds failed.
    Rounds,
}

/// The outcome of a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Ruling {
    /// What came is what was expected.
    Met,
    /// It is not.
    NotMet,
    /// This rig cannot show it.
    CannotTell,
}

/// In what way an expectation is not met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Miss {
    /// Nothing came that could be compared: a failure that was named, or a sensor that was not found. A repetition may
    /// forgive some of these.
    Lost,
    /// Something came, and it is wrong. That is never forgiven.
    Wrong,
}

/// A reading and what it was compared with, in thousandths of a degree Celsius.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Comparison {
    /// The reference.
    pub reference_millicelsius: i32,
    /// Reading minus reference.
    pub difference_millicelsius: i32,
}

impl Verdict {
    /// A verdict on the line or on several sensors.
    ///
    /// One that is not met counts as wrong, unless its check is about nothing but whether something came at all. Where it
    /// may be either, [`lost`](Self::lost) tells.
    pub fn new(
        check: Check,
        expected: impl Into<String>,
        source: impl Into<String>,
        got: impl Into<String>,
        ruling: Ruling,
    ) -> Self {
        Self {
            check,
            sensor: None,
            expected: expected.into(),
            source: source.into(),
            got: got.into(),
            ruling,
            miss: (ruling == Ruling::NotMet).then(|| check.miss()),
            comparison: None,
        }
    }

    /// The same verdict about one sensor.
    #[must_use]
    pub fn about(self, sensor: Subject) -> Self {
        Self { sensor: Some(sensor), ..self }
    }

    /// The same verdict where nothing came that could be compared, if it is not met.
    #[must_use]
    pub fn lost(self) -> Self {
        Self { miss: self.miss.map(|_| Miss::Lost), ..self }
    }

    /// Whether something came and was wrong.
    #[must_use]
    pub fn is_wrong(&self) -> bool {
        self.miss == Some(Miss::Wrong)
    }

    /// Whether it is met.
    #[must_use]
    pub fn is_met(&self) -> bool {
        self.ruling == Ruling::Met
    }
}

impl Check {
    /// What it means if such a check is not met and nothing else is known.
    const fn miss(self) -> Miss {
        match self {
            Self::Search | Self::Conversion | Self::Reading => Miss::Lost,
            Self::Presence
            | Self::Supply
            | Self::Number
            | Self::Published
            | Self::Doubts
            | Self::DoubtNamed
            | Self::Near
            | Self::Stable
            | Self::Agree
            | Self::Quantised
            | Self::InTime
            | Self::Fails
            | Self::Settings
            | Self::Saved
            | Self::Alarm
            | Self::Rounds => Miss::Wrong,
        }
    }
}

impl Ruling {
    /// Met if `condition` holds.
    #[must_use]
    pub const fn met_if(condition: bool) -> Self {
        if condition { Self::Met } else { Self::NotMet }
    }
}
