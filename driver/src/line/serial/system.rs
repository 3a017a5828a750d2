//! A port of an operating system: whole batches out in one call, echoes in as they arrive, every wait bounded.

use std::collections::VecDeque;
use std::io::{self, ErrorKind};
use std::string::{String, ToString};
use std::time::Duration;
use std::vec::Vec;

use embedded_hal::delay::DelayNs;
use embedded_io::{ErrorType, Read, Write};

use super::port::SerialPort;

/// How long an echo may take beyond the time on the line. An adapter keeps what it has received for up to 16 ms or so (common
/// practice), and a busy machine may let a program wait for longer.
const ECHO_WITHIN: Duration = Duration::from_millis(500);
/// Bytes that are read in one call.
const READ_BYTES: usize = 512;
/// A system keeps more of a port that is not read, 4 KiB on Linux; no transaction of the driver is as long as this.
const ECHO_ROOM: usize = 512;
/// How far a rate may be off, in thousandths: what the driver's slots bear.
const RATE_PERMILLE: u64 = 40;
/// Start bit, eight data bits, stop bit.
const FRAME_BITS: u64 = 10;

/// What an open serial port of a system can do beside [`io::Read`] and [`io::Write`]: set its rate and the longest wait of a call.
///
/// The port has eight data bits, no parity, one stop bit, no flow control, and changes no byte (a raw port, in the words of Unix).
pub trait SystemSerial: io::Read + io::Write {
    /// Sets the rate, and returns the rate that it then really has.
    ///
    /// # Errors
    /// Of the kind [`Unsupported`](ErrorKind::Unsupported) or [`InvalidInput`](ErrorKind::InvalidInput) if there is no such rate;
    /// anything else means that the port is gone.
    fn set_rate(&mut self, baud: u32) -> io::Result<u32>;

    /// Sets the longest time that a read or write may wait. Then it ends in [`TimedOut`](ErrorKind::TimedOut) or
    /// [`WouldBlock`](ErrorKind::WouldBlock).
    ///
    /// # Errors
    /// If the port is gone.
    fn set_patience(&mut self, patience: Duration) -> io::Result<()>;

    /// How many received bytes can be read without a wait.
    ///
    /// # Errors
    /// If the port is gone.
    fn received(&mut self) -> io::Result<usize>;
}

/// How a [`SystemPort`] fails.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SystemPortError {
    /// Nothing was received in time.
    #[error("gave no answer in time")]
    Late,
    /// It has no such rate.
    #[error("cannot do {baud} baud: {why}")]
    Rate {
        /// The rate that was asked for.
        baud: u32,
        /// What it does instead.
        why: String,
    },
    /// It is not there any more. A port that was open and then fails is gone: no other cause makes a difference to the line.
    #[error("is gone, unplugged or closed at its far end: {why}")]
    Gone {
        /// What the system says.
        why: String,
    },
}

impl SystemPortError {
    fn gone(error: &io::Error) -> Self {
        Self::Gone { why: error.to_string() }
    }
}

impl embedded_io::Error for SystemPortError {
    fn kind(&self) -> embedded_io::ErrorKind {
        match self {
            Self::Late => embedded_io::ErrorKind::TimedOut,
            Self::Rate { .. } => embedded_io::ErrorKind::Unsupported,
            Self::Gone { .. } => embedded_io::ErrorKind::BrokenPipe,
        }
    }
}

/// A [`SerialPort`] on a serial port of an operating system.
///
/// Slots are made by the port's hardware, so that it does not matter when the system gives the program its turn. Nothing is written before
/// the echoes of what was written before have arrived.
#[derive(Debug)]
pub struct SystemPort<S> {
    port: S,
    baud: u32,
    /// Written, and not handed to the system yet.
    outgoing: Vec<u8>,
    /// Received, and not read yet.
    incoming: VecDeque<u8>,
    /// How many of those that were sent last have no echo yet.
    due: usize,
}

impl<S: SystemSerial> SystemPort<S> {
    /// A port on an open one. Sends nothing.
    pub const fn new(port: S) -> Self {
        Self { port, baud: 0, outgoing: Vec::new(), incoming: VecDeque::new(), due: 0 }
    }

    /// Gives the port back, at the rate of the last byte.
    pub fn release(self) -> S {
        self.port
    }

    /// How long the echoes that are due may take.
    fn patience(&self) -> Duration {
        let bits = FRAME_BITS * self.due as u64;
        ECHO_WITHIN + Duration::from_micros(bits * 1_000_000 / u64::from(self.baud.max(1)))
    }

    /// Takes what was received; waits up to `patience` if that is nothing.
    fn receive(&mut self, patience: Duration) -> Result<(), SystemPortError> {
        self.port.set_patience(patience).map_err(|error| SystemPortError::gone(&error))?;
        let mut bytes = [0; READ_BYTES];
        loop {
            match self.port.read(&mut bytes) {
                Ok(0) => return Err(SystemPortError::Gone { why: "it has hung up".into() }),
                Ok(count) => {
                    self.incoming.extend(bytes.iter().take(count));
                    return Ok(());
                }
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::WouldBlock) => {
                    return Err(SystemPortError::Late);
                }
                Err(error) => return Err(SystemPortError::gone(&error)),
            }
        }
    }
}

impl<S> ErrorType for SystemPort<S> {
    type Error = SystemPortError;
}

impl<S: SystemSerial> Write for SystemPort<S> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, SystemPortError> {
        self.outgoing.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), SystemPortError> {
        if self.outgoing.is_empty() {
            return Ok(());
        }
        self.port.set_patience(ECHO_WITHIN).map_err(|error| SystemPortError::gone(&error))?;
        self.port.write_all(&self.outgoing).map_err(|error| match error.kind() {
            ErrorKind::TimedOut | ErrorKind::WouldBlock => SystemPortError::Gone { why: "it takes no bytes".into() },
            _ => SystemPortError::gone(&error),
        })?;
        self.due += self.outgoing.len();
        self.outgoing.clear();
        Ok(())
    }
}

impl<S: SystemSerial> Read for SystemPort<S> {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, SystemPortError> {
        if self.incoming.is_empty() {
            self.receive(self.patience())?;
        }
        let count = bytes.len().min(self.incoming.len());
        for (place, byte) in bytes.iter_mut().zip(self.incoming.drain(..count)) {
            *place = byte;
        }
        self.due = self.due.saturating_sub(count);
        Ok(count)
    }
}

impl<S: SystemSerial> SerialPort for SystemPort<S> {
    fn set_baud(&mut self, baud: u32) -> Result<(), SystemPortError> {
        // The last byte may still be on its way if its echo was never received.
        io::Write::flush(&mut self.port).map_err(|error| SystemPortError::gone(&error))?;
        let real = self.port.set_rate(baud).map_err(|error| match error.kind() {
            ErrorKind::InvalidInput | ErrorKind::Unsupported => SystemPortError::Rate { baud, why: error.to_string() },
            _ => SystemPortError::gone(&error),
        })?;
        if !is_near(real, baud) {
            return Err(SystemPortError::Rate { baud, why: std::format!("it is set to {real}") });
        }
        self.baud = baud;
        Ok(())
    }

    fn discard_input(&mut self) -> Result<usize, SystemPortError> {
        while self.port.received().map_err(|error| SystemPortError::gone(&error))? > 0 {
            match self.receive(Duration::ZERO) {
                Ok(()) => {}
                Err(SystemPortError::Late) => break,
                Err(error) => return Err(error),
            }
        }
        self.due = 0;
        Ok(std::mem::take(&mut self.incoming).len())
    }

    fn echo_room(&self) -> usize {
        ECHO_ROOM
    }
}

/// Drivers of adapters put the rate that they really have in place of the one that was asked for.
const fn is_near(real: u32, asked: u32) -> bool {
    real.abs_diff(asked) as u64 * 1_000 <= asked as u64 * RATE_PERMILLE
}

/// Waits as the system does: at least as long as asked, often longer. For conversions and [`SerialLine`](super::SerialLine), not for
/// the slots of a pin.
#[derive(Clone, Copy, Debug, Default)]
pub struct SystemDelay;

impl DelayNs for SystemDelay {
    fn delay_ns(&mut self, ns: u32) {
        std::thread::sleep(Duration::from_nanos(ns.into()));
    }

    fn delay_us(&mut self, us: u32) {
        std::thread::sleep(Duration::from_micros(us.into()));
    }
}

#[cfg(test)]
mod tests {
    use super::is_near;

    #[test]
    fn a_rate_is_right_within_four_percent() {
        for (real, asked) in
            [(7_200, 7_200), (7_211, 7_200), (115_384, 115_200), (111_000, 115_200), (119_800, 115_200)]
        {
            assert!(is_near(real, asked), "{real} for {asked}");
        }
        for (real, asked) in [(9_600, 7_200), (4_800, 7_200), (0, 7_200), (57_600, 115_200), (u32::MAX, 115_200)] {
            assert!(!is_near(real, asked), "{real} for {asked}");
        }
    }
}
