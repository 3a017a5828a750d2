//! What can go wrong with a request.

use slotwise_terms::FailureKind;

/// Why a rig did not carry out a request.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Trouble {
    /// The driver tried, and the line or a sensor failed.
    #[error(transparent)]
    Failed(#[from] Failure),
    /// The driver could not be reached, or it could not reach its pins: the line cannot be observed.
    #[error("no link to the line: {text}")]
    Link {
        /// What is known.
        text: String,
    },
    /// It was ended early, because the user wants to end.
    #[error("ended early, as wanted")]
    Cancelled,
    /// This rig is not able to.
    #[error("not possible on this rig: {what}")]
    NotPossible {
        /// What is not.
        what: String,
    },
}

/// A failure of the line or of a sensor, as the driver reports it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{text}")]
pub struct Failure {
    /// What kind.
    pub kind: FailureKind,
    /// The driver's own words.
    pub text: String,
    /// The nine bytes received, if any.
    pub bytes: Option<[u8; 9]>,
}

impl Trouble {
    /// A failure without bytes.
    #[must_use]
    pub fn failed(kind: FailureKind, text: impl Into<String>) -> Self {
        Self::Failed(Failure { kind, text: text.into(), bytes: None })
    }

    /// What this rig is not able to do.
    #[must_use]
    pub fn not_possible(what: impl Into<String>) -> Self {
        Self::NotPossible { what: what.into() }
    }

    /// The kind of failure, if it is one.
    #[must_use]
    pub const fn kind(&self) -> Option<FailureKind> {
        match self {
            Self::Failed(failure) => Some(failure.kind),
            Self::Link { .. } | Self::Cancelled | Self::NotPossible { .. } => None,
        }
    }

    /// Whether it means that the rig is broken, unless the scenario broke it: nothing can be said about any sensor.
    #[must_use]
    pub const fn condemns_rig(&self) -> bool {
        match self {
            Self::Failed(failure) => matches!(
                failure.kind,
                FailureKind::NoPresence
                    | FailureKind::StuckLow
                    | FailureKind::NeverIdleHigh
                    | FailureKind::MasterTooLate
                    | FailureKind::NoStrongPullUp
            ),
            Self::Link { .. } => true,
            Self::Cancelled | Self::NotPossible { .. } => false,
        }
    }
}
