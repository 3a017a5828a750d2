//! One thing that has changed.

use std::fmt;

use serde::Serialize;

use super::past::{Observed, decided, searched};
use crate::history::{FigureKind, FigureSubject};

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

/// The figure or step that the keys of a stored finding speak of.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) enum About {
    /// A step.
    Step(String),
    /// A figure.
    Figure(FigureKind, FigureSubject),
}

impl About {
    /// Takes it out of a run that becomes part of the past.
    pub(super) fn leave_out(&self, of: &mut Observed) {
        match self {
            Self::Step(label) => of.steps.retain(|(step, _)| step != label),
            Self::Figure(kind, subject) => {
                of.figures.retain(|figure| figure.kind != *kind || figure.subject != *subject);
            }
        }
    }

    /// The sensor that is there or not, if it speaks of that.
    pub(super) const fn sensor(&self) -> Option<&FigureSubject> {
        match self {
            Self::Figure(FigureKind::Found, subject) => Some(subject),
            Self::Step(_) | Self::Figure(..) => None,
        }
    }

    /// Whether a run looked at it at all: only then can it be said to be over.
    pub(super) fn is_looked_at(&self, by: &Observed) -> bool {
        match self {
            Self::Step(label) => by.steps.iter().any(|(step, outcome)| step == label && decided(*outcome).is_some()),
            // Who is gone has no figure.
            Self::Figure(FigureKind::Found, _) => searched(&by.figures),
            Self::Figure(kind, subject) => {
                by.figures.iter().any(|figure| figure.kind == *kind && figure.subject == *subject)
            }
        }
    }

    /// From the keys. `None` if a newer tool has written them.
    pub(super) fn of(matter: &str, subject: &str) -> Option<Self> {
        match matter.split_once(' ') {
            None if matter == "step" => Some(Self::Step(subject.to_owned())),
            None if matter == "gone" || matter == "new" => {
                Some(Self::Figure(FigureKind::Found, FigureSubject::parse(subject)?))
            }
            Some((_, figure)) => Some(Self::Figure(FigureKind::of_name(figure)?, FigureSubject::parse(subject)?)),
            None => None,
        }
    }
}

impl Finding {
    /// The figure or step that it speaks of.
    pub(super) fn about(&self) -> About {
        match &self.matter {
            Matter::Step { label } => About::Step(label.clone()),
            Matter::Rate { figure, subject }
            | Matter::Moved { figure, subject }
            | Matter::Drifts { figure, subject } => About::Figure(*figure, subject.clone()),
            Matter::Gone { subject } | Matter::New { subject } => About::Figure(FigureKind::Found, subject.clone()),
            Matter::Grown { figure } => About::Figure(*figure, FigureSubject::Whole),
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}
