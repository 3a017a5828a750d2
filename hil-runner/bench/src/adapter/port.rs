//! The port of this host, as the driver's adapter for systems wants it: opened by its name, and counted.

use std::io;
use std::rc::Rc;
use std::time::Duration;

use slotwise::line::{SystemPortError, SystemSerial};

use super::Traffic;
use slotwise_rig::ModemLine;

/// How a port fails.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub(crate) enum PortFault {
    /// Its bytes, or its rate.
    #[error(transparent)]
    Port(#[from] SystemPortError),
    /// Its modem line does not move.
    #[error("cannot move its modem line {}, which is to switch the strong pull-up: {why}", .line.word())]
    ModemLine {
        /// Which.
        line: ModemLine,
        /// What the system says.
        why: String,
    },
}

/// An open port.
pub(super) struct HostSerial {
    port: Box<dyn serialport::SerialPort>,
    traffic: Rc<Traffic>,
}

impl HostSerial {
    pub(super) fn new(port: Box<dyn serialport::SerialPort>, traffic: Rc<Traffic>) -> Self {
        Self { port, traffic }
    }
}

impl io::Read for HostSerial {
    fn read(&mut self, bytes: &mut [u8]) -> io::Result<usize> {
        self.port.read(bytes)
    }
}

impl io::Write for HostSerial {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.port.write(bytes)
    }

    /// One call for each batch of the driver's adapter, which then waits for the echoes: a round trip.
    fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.port.write_all(bytes)?;
        self.traffic.sent(bytes.len());
        self.traffic.round_trip();
        Ok(())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.port.flush()
    }
}

impl SystemSerial for HostSerial {
    fn set_rate(&mut self, baud: u32) -> io::Result<u32> {
        self.port.set_baud_rate(baud).map_err(|error| match error.kind() {
            serialport::ErrorKind::InvalidInput => io::Error::new(io::ErrorKind::InvalidInput, error.to_string()),
            _ => error.into(),
        })?;
        Ok(self.port.baud_rate()?)
    }

    fn set_patience(&mut self, patience: Duration) -> io::Result<()> {
        Ok(self.port.set_timeout(patience)?)
    }

    fn received(&mut self) -> io::Result<usize> {
        Ok(self.port.bytes_to_read()? as usize)
    }
}
