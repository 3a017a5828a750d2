//! Frames through an open serial port.

use std::io::{self, ErrorKind};
use std::time::{Duration, Instant};

use serialport::SerialPort;

use crate::link::{Carrier, CarrierError};

/// How long the far end may take no byte. The bridge takes each within microseconds unless it is busy with the line, and then its
/// port and the system's hold several frames.
const ROOM_WITHIN: Duration = Duration::from_secs(2);
/// Most bytes of one poll.
const POLL_BYTES: usize = 1024;

/// Carries frames through a serial port.
pub(super) struct SerialCarrier {
    name: String,
    port: Box<dyn SerialPort>,
    opened: Instant,
}

impl SerialCarrier {
    pub(super) fn new(name: &str, port: Box<dyn SerialPort>) -> Self {
        Self { name: name.to_owned(), port, opened: Instant::now() }
    }

    /// A port that fails once it was open is a port that is gone: nothing else makes a difference to a run.
    fn lost(&self, error: &io::Error) -> CarrierError {
        CarrierError::Lost(format!(
            "the serial port {} is gone, unplugged or closed at its far end: {error}",
            self.name
        ))
    }

    fn ended(&self) -> CarrierError {
        CarrierError::Lost(format!("the serial port {} has hung up: its far end is gone", self.name))
    }

    fn wait_up_to(&mut self, patience: Duration) -> Result<(), CarrierError> {
        self.port.set_timeout(patience).map_err(|error| self.lost(&io::Error::from(error)))
    }
}

/// Whether nothing is wrong yet: the time is over, or a signal arrived.
fn is_pause(error: &io::Error) -> bool {
    matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted)
}

impl Carrier for SerialCarrier {
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError> {
        let mut taken = Instant::now();
        for byte in bytes {
            // One at a time: the port is known to have room for one, and waits without an end where there is none for all.
            loop {
                let waited = taken.elapsed();
                let Some(patience) = ROOM_WITHIN.checked_sub(waited).filter(|left| !left.is_zero()) else {
                    return Err(CarrierError::Full { for_how_long: waited });
                };
                self.wait_up_to(patience)?;
                match self.port.write(&[*byte]) {
                    Ok(0) => return Err(self.ended()),
                    Ok(_) => break,
                    Err(error) if is_pause(&error) => {}
                    Err(error) => return Err(self.lost(&error)),
                }
            }
            taken = Instant::now();
        }
        Ok(())
    }

    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError> {
        self.wait_up_to(patience)?;
        let mut polled = [0; POLL_BYTES];
        match self.port.read(&mut polled) {
            Ok(0) => Err(self.ended()),
            Ok(count) => {
                bytes.extend_from_slice(polled.get(..count).unwrap_or(&polled));
                Ok(())
            }
            Err(error) if is_pause(&error) => Ok(()),
            Err(error) => Err(self.lost(&error)),
        }
    }

    fn now(&self) -> Duration {
        self.opened.elapsed()
    }
}
