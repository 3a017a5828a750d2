//! Why a line on pins cannot be set up.

use super::TimingError;

/// Why a line on pins cannot be set up. `E` is the error of the pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum SetupError<E> {
    /// The timing set, or the calls of this chip, cannot keep the datasheet's limits.
    #[error(transparent)]
    Timing(#[from] TimingError),
    /// The pin reported an error.
    #[error("pin access failed: {0:?}")]
    Pin(E),
    /// The counter that calls are measured by stands still, or counts too slowly to measure what they cost.
    #[error("the counter stands still, or is too slow to measure calls by")]
    Counter,
}
