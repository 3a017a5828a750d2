//! From the bridge's answers to what a run is told.

use slotwise_bridge::message::Answer;

use crate::link::LinkError;
use slotwise_rig::reply::Trouble;

impl From<LinkError> for Trouble {
    fn from(error: LinkError) -> Self {
        match error {
            LinkError::Cancelled => Self::Cancelled,
            LinkError::OutOfBounds { .. } => Self::not_possible(error.to_string()),
            other => Self::Link { text: other.to_string() },
        }
    }
}

/// An answer to another question: the bridge is not to be trusted.
pub(super) fn mismatch(asked: &str, answer: &Answer) -> Trouble {
    LinkError::Broken(format!("to the request {asked} it gives the answer to another one: {answer:?}")).into()
}
