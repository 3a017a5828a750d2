//! What a finding is about: by this the same matter is known again in another run.

use super::past::{Observed, decided, searched};
use slotwise_past::{FigureKind, FigureSubject, Finding, Matter};

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

impl From<&Finding> for About {
    /// The figure or step that a finding speaks of.
    fn from(finding: &Finding) -> Self {
        match &finding.matter {
            Matter::Step { label } => Self::Step(label.clone()),
            Matter::Rate { figure, subject }
            | Matter::Moved { figure, subject }
            | Matter::Drifts { figure, subject } => Self::Figure(*figure, subject.clone()),
            Matter::Gone { subject } | Matter::New { subject } => Self::Figure(FigureKind::Found, subject.clone()),
            Matter::Grown { figure } => Self::Figure(*figure, FigureSubject::Whole),
        }
    }
}
