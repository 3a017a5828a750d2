//! What can go wrong with the waveform of a rig.

use std::io;

/// Why there is no waveform.
#[derive(Debug, thiserror::Error)]
pub enum WaveformError {
    /// This rig records none.
    #[error("this rig records no waveform")]
    NotPossible,
    /// The rig that has it is gone.
    #[error("the waveform is lost with the rig: {0}")]
    Lost(String),
    /// It could not be written.
    #[error(transparent)]
    Write(#[from] io::Error),
}
