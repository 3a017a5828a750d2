//! The two halves of a UART with the traits of `embedded-hal-nb`, as one with the traits of `embedded-io`.

use embedded_hal_nb::serial;
use embedded_io::{ErrorKind, ErrorType, Read, ReadReady, Write};

/// The error of either half.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum UartHalfError<T, R> {
    /// Of the transmitter.
    #[error("the transmitter failed: {0:?}")]
    Transmitter(T),
    /// Of the receiver.
    #[error("the receiver failed: {0:?}")]
    Receiver(R),
}

impl<T: serial::Error, R: serial::Error> embedded_io::Error for UartHalfError<T, R> {
    /// [`InvalidData`](ErrorKind::InvalidData) for a framing error, which is what [`UartPort`](super::UartPort) looks for.
    fn kind(&self) -> ErrorKind {
        match self {
            Self::Receiver(error) if matches!(error.kind(), serial::ErrorKind::FrameFormat) => ErrorKind::InvalidData,
            _ => ErrorKind::Other,
        }
    }
}

/// A UART made of its two halves, transmitter and receiver, with the traits of `embedded-hal-nb`: what
/// [`UartPort`](super::UartPort) needs.
///
/// Halves, because some HALs panic where the whole would have to wait. What is under way when an error is reported is lost with it,
/// as these traits have no way to give both.
#[derive(Debug)]
pub struct UartHalves<T, R: serial::ErrorType> {
    /// The transmitter.
    pub tx: T,
    /// The receiver.
    pub rx: R,
    received: Option<Result<u8, R::Error>>,
}

impl<T: serial::Write, R: serial::Read> UartHalves<T, R> {
    /// Both halves as one.
    pub const fn new(tx: T, rx: R) -> Self {
        Self { tx, rx, received: None }
    }
}

impl<T: serial::Write, R: serial::Read> ErrorType for UartHalves<T, R> {
    type Error = UartHalfError<T::Error, R::Error>;
}

impl<T: serial::Write, R: serial::Read> ReadReady for UartHalves<T, R> {
    fn read_ready(&mut self) -> Result<bool, Self::Error> {
        if self.received.is_none() {
            self.received = match self.rx.read() {
                Ok(byte) => Some(Ok(byte)),
                Err(nb::Error::Other(error)) => Some(Err(error)),
                Err(nb::Error::WouldBlock) => None,
            };
        }
        Ok(self.received.is_some())
    }
}

impl<T: serial::Write, R: serial::Read> Read for UartHalves<T, R> {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, Self::Error> {
        let Some(place) = bytes.first_mut() else { return Ok(0) };
        let received = match self.received.take() {
            Some(received) => received,
            None => nb::block!(self.rx.read()),
        };
        *place = received.map_err(UartHalfError::Receiver)?;
        Ok(1)
    }
}

impl<T: serial::Write, R: serial::Read> Write for UartHalves<T, R> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Self::Error> {
        let Some(byte) = bytes.first() else { return Ok(0) };
        nb::block!(self.tx.write(*byte)).map_err(UartHalfError::Transmitter)?;
        Ok(1)
    }

    fn flush(&mut self) -> Result<(), Self::Error> {
        nb::block!(self.tx.flush()).map_err(UartHalfError::Transmitter)
    }
}
