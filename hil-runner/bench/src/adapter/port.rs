//! The port as the driver wants it: whole batches out in one call, echoes in as they come, every wait bounded.

use std::collections::VecDeque;
use std::io::{self, ErrorKind};
use std::rc::Rc;
use std::time::Duration;

use embedded_io::{ErrorType, Read, Write};

use super::Traffic;
use slotwise_rig::ModemLine;

/// How long an echo may take beyond the time on the line. An adapter keeps what it has received for up to 16 ms or so (common
/// practice), and a machine with much to do may keep everybody waiting for longer.
const ECHO_WITHIN: Duration = Duration::from_millis(500);
/// Bytes of one look.
const LOOK_BYTES: usize = 512;
/// What the system keeps of a port that nobody reads is 4 KiB on Linux; no transaction of the driver is as long as this.
const ECHO_ROOM: usize = 512;
/// How far a rate may be off, in thousandths: what the driver's slots bear.
const RATE_PERMILLE: u32 = 40;
/// Start bit, eight data bits, stop bit.
const FRAME_BITS: u64 = 10;

/// How a port fails.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub(crate) enum PortFault {
    /// Nothing came in time.
    #[error("gave no answer in time")]
    Late,
    /// It is not there any more.
    #[error("is gone, unplugged or closed at its far end: {why}")]
    Gone {
        /// What the system says.
        why: String,
    },
    /// Its modem line does not move.
    #[error("cannot move its modem line {}, which is to switch the strong pull-up: {why}", .line.word())]
    ModemLine {
        /// Which.
        line: ModemLine,
        /// What the system says.
        why: String,
    },
    /// It has no such rate.
    #[error("cannot do {asked} baud: {why}")]
    Rate {
        /// The rate.
        asked: u32,
        /// What it does instead.
        why: String,
    },
}

impl embedded_io::Error for PortFault {
    fn kind(&self) -> embedded_io::ErrorKind {
        match self {
            Self::Late => embedded_io::ErrorKind::TimedOut,
            Self::Gone { .. } => embedded_io::ErrorKind::BrokenPipe,
            Self::ModemLine { .. } => embedded_io::ErrorKind::Other,
            Self::Rate { .. } => embedded_io::ErrorKind::Unsupported,
        }
    }
}

/// An open port.
pub(super) struct HostPort {
    port: Box<dyn serialport::SerialPort>,
    baud: u32,
    /// Written, and not handed to the system yet.
    outgoing: Vec<u8>,
    /// Received, and not read yet.
    incoming: VecDeque<u8>,
    /// How many of those that were sent last have not come back.
    due: usize,
    traffic: Rc<Traffic>,
}

impl HostPort {
    pub(super) fn new(port: Box<dyn serialport::SerialPort>, traffic: Rc<Traffic>) -> Self {
        Self { port, baud: 0, outgoing: Vec::new(), incoming: VecDeque::new(), due: 0, traffic }
    }

    /// How long the echoes that are due may take.
    fn patience(&self) -> Duration {
        let bits = FRAME_BITS * self.due as u64;
        ECHO_WITHIN + Duration::from_micros(bits * 1_000_000 / u64::from(self.baud.max(1)))
    }

    /// Takes what has come; waits for it up to `patience` if nothing has.
    fn look(&mut self, patience: Duration) -> Result<(), PortFault> {
        self.port.set_timeout(patience).map_err(|error| gone(&io::Error::from(error)))?;
        let mut bytes = [0; LOOK_BYTES];
        loop {
            match io::Read::read(&mut self.port, &mut bytes) {
                Ok(0) => return Err(PortFault::Gone { why: "it has hung up".into() }),
                Ok(count) => {
                    self.incoming.extend(bytes.iter().take(count));
                    return Ok(());
                }
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::WouldBlock) => {
                    return Err(PortFault::Late);
                }
                Err(error) => return Err(gone(&error)),
            }
        }
    }
}

/// A port that fails once it was open is a port that is gone: nothing else makes a difference to a run.
fn gone(error: &io::Error) -> PortFault {
    PortFault::Gone { why: error.to_string() }
}

impl ErrorType for HostPort {
    type Error = PortFault;
}

impl Write for HostPort {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, PortFault> {
        self.outgoing.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), PortFault> {
        if self.outgoing.is_empty() {
            return Ok(());
        }
        self.port.set_timeout(ECHO_WITHIN).map_err(|error| gone(&io::Error::from(error)))?;
        // Not more than the system has room for: nothing is written before the echoes of what was written before are here.
        io::Write::write_all(&mut self.port, &self.outgoing).map_err(|error| match error.kind() {
            ErrorKind::TimedOut | ErrorKind::WouldBlock => PortFault::Gone { why: "it takes no bytes".into() },
            _ => gone(&error),
        })?;
        self.traffic.sent(self.outgoing.len());
        self.traffic.round_trip();
        self.due += self.outgoing.len();
        self.outgoing.clear();
        Ok(())
    }
}

impl Read for HostPort {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, PortFault> {
        if self.incoming.is_empty() {
            self.look(self.patience())?;
        }
        let count = bytes.len().min(self.incoming.len());
        for (place, byte) in bytes.iter_mut().zip(self.incoming.drain(..count)) {
            *place = byte;
        }
        self.due = self.due.saturating_sub(count);
        Ok(count)
    }
}

impl slotwise::line::SerialPort for HostPort {
    fn set_baud(&mut self, baud: u32) -> Result<(), PortFault> {
        // The last byte may still be on its way if its echo never came.
        self.port.flush().map_err(|error| gone(&error))?;
        let rate = |why: String| PortFault::Rate { asked: baud, why };
        self.port.set_baud_rate(baud).map_err(|error| match error.kind() {
            serialport::ErrorKind::InvalidInput | serialport::ErrorKind::Io(ErrorKind::InvalidInput) => {
                rate(error.to_string())
            }
            _ => gone(&io::Error::from(error)),
        })?;
        let real = self.port.baud_rate().map_err(|error| gone(&io::Error::from(error)))?;
        if !is_near(real, baud) {
            return Err(rate(format!("it is set to {real}")));
        }
        self.baud = baud;
        Ok(())
    }

    fn discard_input(&mut self) -> Result<usize, PortFault> {
        while self.port.bytes_to_read().map_err(|error| gone(&io::Error::from(error)))? > 0 {
            match self.look(Duration::ZERO) {
                Ok(()) => {}
                Err(PortFault::Late) => break,
                Err(fault) => return Err(fault),
            }
        }
        self.due = 0;
        Ok(std::mem::take(&mut self.incoming).len())
    }

    fn echo_room(&self) -> usize {
        ECHO_ROOM
    }
}

/// Drivers of adapters put the rate that they really have in place of the one they were asked for.
fn is_near(real: u32, asked: u32) -> bool {
    u64::from(real.abs_diff(asked)) * 1_000 <= u64::from(asked) * u64::from(RATE_PERMILLE)
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
