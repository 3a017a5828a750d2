//! What carries frames: memory read by a debug probe, a serial port, or a call in this process.

use std::time::Duration;

use slotwise_rig::reply::LogRecord;

/// A way for bytes to a bridge and back.
pub trait Carrier {
    /// Sends all of `bytes`, within a bounded time.
    ///
    /// # Errors
    /// [`CarrierError`] says what has become of the way.
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError>;

    /// Adds to `bytes` what has come. Waits up to `patience` if nothing has; nothing is no error.
    ///
    /// # Errors
    /// [`CarrierError`] says what has become of the way.
    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError>;

    /// The time by which waits are bounded: the wall's, or that of a rig in virtual time.
    fn now(&self) -> Duration;

    /// Whether the bridge opens its switches when it hears nothing for a while. One in this process cannot lose its host.
    fn wants_life(&self) -> bool {
        true
    }

    /// What is known of the bridge when it does not answer.
    fn condition(&mut self) -> Option<String> {
        None
    }

    /// What a listening bridge has streamed since the last call. A carrier without a channel for it has nothing.
    ///
    /// # Errors
    /// [`CarrierError`] says what has become of the way.
    fn take_edges(&mut self) -> Result<Vec<u8>, CarrierError> {
        Ok(Vec::new())
    }

    /// Log lines of the firmware that have come since the last call.
    fn take_logs(&mut self) -> Vec<LogLine> {
        Vec::new()
    }
}

/// One line of the firmware's log.
pub type LogLine = LogRecord;

/// Why bytes do not get through.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CarrierError {
    /// The far end takes no bytes any more.
    #[error("the channel to the bridge is full: it has taken no byte for {} ms", .for_how_long.as_millis())]
    Full {
        /// Since when.
        for_how_long: Duration,
    },
    /// The way is gone, or the chip behind it.
    #[error("{0}")]
    Lost(String),
}
