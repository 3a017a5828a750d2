//! Converts the bridge's answers to the replies that a run gets.

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
pub(super) fn mismatch(request: &str, answer: &Answer) -> Trouble {
    LinkError::Broken(format!("to the request {request} it gives the answer to another one: {answer:?}")).into()
}
