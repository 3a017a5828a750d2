//! What has changed in a run, against the past of its rig.

use std::fmt;

use serde::Serialize;

use super::figure::{FigureKind, FigureSubject};
use super::rows::FindingRow;

/// What has changed.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Matter {
    /// A step fails that used to pass.
    Step {
        /// What the scenario calls it.
        label: String,
    },
    /// More events among tries than before.
    Rate {
        /// Of what.
        figure: FigureKind,
        /// Of which sensor.
        #[serde(serialize_with = "as_text")]
        subject: FigureSubject,
    },
    /// A measured value is not where it was.
    Moved {
        /// Which.
        figure: FigureKind,
        /// Of which sensor.
        #[serde(serialize_with = "as_text")]
        subject: FigureSubject,
    },
    /// A measured value goes on and on in one direction.
    Drifts {
        /// Which.
        figure: FigureKind,
        /// Of which sensor.
        #[serde(serialize_with = "as_text")]
        subject: FigureSubject,
    },
    /// A sensor is not there any more.
    Gone {
        /// Which.
        #[serde(serialize_with = "as_text")]
        subject: FigureSubject,
    },
    /// A sensor is there that was not.
    New {
        /// Which.
        #[serde(serialize_with = "as_text")]
        subject: FigureSubject,
    },
    /// The firmware takes more of the chip.
    Grown {
        /// Of what.
        figure: FigureKind,
    },
}

fn as_text<S: serde::Serializer>(subject: &FigureSubject, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(subject)
}

/// A finding about one run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// What has changed.
    #[serde(flatten)]
    pub matter: Matter,
    /// In words, with the numbers.
    pub text: String,
}

impl Matter {
    /// What has changed and what it is about, as keys by which the same matter is known again in another run.
    #[must_use]
    pub fn keys(&self) -> (String, String) {
        match self {
            Self::Step { label } => ("step".into(), label.clone()),
            Self::Rate { figure, subject } => (format!("rate {}", figure.name()), subject.to_string()),
            Self::Moved { figure, subject } => (format!("moved {}", figure.name()), subject.to_string()),
            Self::Drifts { figure, subject } => (format!("drifts {}", figure.name()), subject.to_string()),
            Self::Gone { subject } => ("gone".into(), subject.to_string()),
            Self::New { subject } => ("new".into(), subject.to_string()),
            Self::Grown { figure } => (format!("grown {}", figure.name()), String::new()),
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// What has changed in a run.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Assessment {
    /// What stands now, what is new first.
    pub changes: Vec<Change>,
    /// What stood before and is over.
    pub over: Vec<FindingRow>,
    /// How many runs of the past count: at most those of the window.
    pub compared_with: usize,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Change {
    /// What was found.
    #[serde(flatten)]
    pub finding: Finding,
    /// Whether no run before has shown it.
    pub is_new: bool,
    /// The night, or the date, since when it shows.
    pub since: String,
}
