//! What is known of a line beside its waveform.

use super::timing::Power;

/// What is known of a line beside its waveform. Nothing, by default.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// How the sensors are powered. Overrules what they say to Read Power Supply.
    pub power: Power,
}
