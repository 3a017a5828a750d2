//! Bounds of what a request may ask for. The driver bounds everything else that takes time.

use super::{MOST_CONVERSION_US, Refusal, Request};

impl Request {
    /// The refusal of a request that asks for more time than the bridge gives.
    #[must_use]
    pub const fn out_of_bounds(&self) -> Option<Refusal<'static>> {
        match self {
            Self::Convert { max_us, .. } | Self::Prove { max_us, .. } | Self::FinishRound { max_us, .. }
                if *max_us > MOST_CONVERSION_US =>
            {
                Some(Refusal::OutOfBounds { most_us: MOST_CONVERSION_US })
            }
            _ => None,
        }
    }
}
