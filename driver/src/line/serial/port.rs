//! What a serial port must do to be a bus master, and what can be wrong with it.

use embedded_io::{Read, Write};

/// A serial port with one start bit, eight data bits, one stop bit and no parity, for [`SerialLine`](super::SerialLine).
///
/// - `write` sends; the transmitter drives the line through an open-drain output, or through a transistor or diode that only
///   pulls low.
/// - `read` gives what the receiver on the line received. It must not wait for ever where nothing is received: after some tens of
///   milliseconds, or more where the port is slow, it is to end in an error of the kind
///   [`TimedOut`](embedded_io::ErrorKind::TimedOut). A byte whose stop bit is low is given like any other, not as an error.
/// - `flush` starts the transmission of all that was written; it need not wait until it has been sent.
pub trait SerialPort: Read + Write {
    /// Sends and receives at another rate, from the next byte on. Nothing is on its way when this is called.
    ///
    /// # Errors
    /// That of the port; of the kind [`Unsupported`](embedded_io::ErrorKind::Unsupported) or
    /// [`InvalidInput`](embedded_io::ErrorKind::InvalidInput) if it has no such rate.
    fn set_baud(&mut self, baud: u32) -> Result<(), Self::Error>;

    /// Throws away what has been received and not been read, and says how many bytes that were.
    ///
    /// # Errors
    /// That of the port.
    fn discard_input(&mut self) -> Result<usize, Self::Error>;

    /// How many received bytes the port keeps until they are read: the length of its queue, or of the buffer that an interrupt or
    /// a DMA channel fills.
    ///
    /// So many bytes are sent before the first echo is read. At 1, which no port is too small for, each slot is one write and one
    /// read. Where these cost time, as on a USB adapter, 152 lets the longest transaction go out in one piece: Match ROM, a ROM
    /// code, Read Scratchpad and nine bytes.
    fn echo_room(&self) -> usize {
        1
    }
}

impl<P: SerialPort + ?Sized> SerialPort for &mut P {
    fn set_baud(&mut self, baud: u32) -> Result<(), Self::Error> {
        (**self).set_baud(baud)
    }

    fn discard_input(&mut self) -> Result<usize, Self::Error> {
        (**self).discard_input()
    }

    fn echo_room(&self) -> usize {
        (**self).echo_room()
    }
}

/// What is wrong between serial port and line. `E` is the error of the port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum SerialError<E> {
    /// No echo was received. The receiver is not joined to the line; or the line was low before and receivers of
    /// this kind wait for it to fall.
    #[error("no echo: the receiver is not joined to the line, or the line is stuck low")]
    NoEcho,
    /// The echo cannot be of the byte that was sent: a bit that is pulled low was received high. Bytes were lost, the transmitter does
    /// not pull the line low, or the port runs at another rate.
    #[error(
        "wrong echo, {echo:02X}h to {sent:02X}h: bytes were lost, the transmitter does not reach the line, or the rate is wrong"
    )]
    WrongEcho {
        /// What was sent.
        sent: u8,
        /// The echo.
        echo: u8,
    },
    /// Some of the echoes are missing. Bytes were lost on the way; or the line went low and stayed there, and the receiver waits for
    /// it to fall.
    #[error("{received} echoes to {sent} bytes: bytes were lost, or the line went low and stayed")]
    LostEcho {
        /// How many bytes were sent.
        sent: usize,
        /// How many echoes were received.
        received: usize,
    },
    /// More bytes were received than sent: something else was received between two slots, or the port inserts bytes.
    #[error("{extra} byte{} more received than the {sent} that were sent", if *extra == 1 { "" } else { "s" })]
    ExtraEcho {
        /// How many bytes were sent.
        sent: usize,
        /// How many were received beyond them.
        extra: usize,
    },
    /// The port has ended.
    #[error("the serial port has ended")]
    Closed,
    /// The port reported an error.
    #[error("the serial port failed: {0:?}")]
    Port(E),
}
