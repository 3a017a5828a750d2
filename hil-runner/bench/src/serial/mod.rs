//! The way to a bridge on a serial port, pseudo-terminals included: the port, and why it cannot be opened.

mod carrier;
mod error;

// Pseudo-terminals are how systems like Unix have them.
#[cfg(test)]
#[cfg(unix)]
mod tests;

pub use error::PortError;

use std::time::Duration;

use carrier::SerialCarrier;

use crate::link::Carrier;

/// Rate of the bridge's port, in baud, with eight data bits, no parity and one stop bit.
const BAUD: u32 = 115_200;

/// Opens a serial port for frames. What it received before is thrown away.
///
/// # Errors
/// [`PortError`] says what keeps it from being opened.
pub(crate) fn open_serial(port: &str) -> Result<Box<dyn Carrier>, PortError> {
    let opened =
        serialport::new(port, BAUD).timeout(Duration::ZERO).open().map_err(|error| PortError::of(port, &error))?;
    // Bytes of an earlier session would be answered as damaged, so it does no harm if this fails.
    let _ = opened.clear(serialport::ClearBuffer::Input);
    Ok(Box::new(SerialCarrier::new(port, opened)))
}
