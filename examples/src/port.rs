//! A serial port of this system, as the driver's adapter wants it.

use std::io;
use std::time::Duration;

use serialport::ErrorKind;
use slotwise::line::{SystemPort, SystemSerial};

/// The rate of the lines of text.
pub const TEXT_BAUD: u32 = 115_200;

/// An open port.
pub struct OpenPort(Box<dyn serialport::SerialPort>);

/// Opens the port of this name as one that a [`SerialLine`](slotwise::line::SerialLine) can be on.
///
/// # Errors
/// What the system says.
pub fn open(name: &str) -> io::Result<SystemPort<OpenPort>> {
    // Eight data bits, no parity, one stop bit, no flow control: as it is opened.
    Ok(SystemPort::new(OpenPort(serialport::new(name, TEXT_BAUD).open()?)))
}

impl io::Read for OpenPort {
    fn read(&mut self, bytes: &mut [u8]) -> io::Result<usize> {
        self.0.read(bytes)
    }
}

impl io::Write for OpenPort {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl SystemSerial for OpenPort {
    fn set_rate(&mut self, baud: u32) -> io::Result<u32> {
        self.0.set_baud_rate(baud).map_err(|error| match error.kind() {
            // Says that there is no such rate; anything else, that the port is gone.
            ErrorKind::InvalidInput => io::Error::new(io::ErrorKind::InvalidInput, error),
            _ => error.into(),
        })?;
        Ok(self.0.baud_rate()?)
    }

    fn set_patience(&mut self, patience: Duration) -> io::Result<()> {
        Ok(self.0.set_timeout(patience)?)
    }

    fn received(&mut self) -> io::Result<usize> {
        Ok(self.0.bytes_to_read()? as usize)
    }
}
