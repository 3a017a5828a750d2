//! The bus master on a UART: each byte that is sent pulls the line through one slot, and its echo is what the line did.
//!
//! A frame begins with a low start bit, and zeros follow low, so a byte of ones is a short low pulse and a byte of zeros a long
//! one. A receiver joined to the line looks at it in the middle of each bit:
//!
//! ```text
//! 115200 baud, 8.68 us a bit       start  0  1  2  3  4  5  6  7 stop
//! write 1, read 1: sends FFh     ──┐    ┌──────────────────────────   echo FFh
//!                                  └────┘  ^ sample, 13.0 us
//! read 0: sends FFh              ──┐           ┌───────────────────   echo FCh: bit 0 is clear
//!                                  └───────────┘ the sensor lets go
//! write 0: sends 00h             ──┐                          ┌────   echo 00h
//!                                  └──────────────────────────┘ 78.1 us
//! ```
//!
//! Low times and samples keep to the limits of the DS18B20 datasheet (7/19), AC table: tLOW1 1..15 us, tLOW0 60..120 us, tRDV
//! 15 us, tRSTL 480..960 us. Computed for exact rates; all hold to within 4 %.

use embedded_hal::delay::DelayNs;
use embedded_io::{Error, ErrorKind, Read, Write};

use super::{Line, LineError, Presence};

/// Rate of a byte that is one slot. Write-0 stays within its limits from 75000 to 150000 baud; the sample is before 15 us above
/// 100000 baud.
const SLOT_BAUD: u32 = 115_200;
/// Writes a 1, or reads.
const SLOT_ONE: u8 = 0xFF;
/// Writes a 0.
const SLOT_ZERO: u8 = 0x00;
/// Ten bits of 8.68 us, rounded down: polling must not count time that has not passed.
const SLOT_US: u32 = 86;

/// A byte that is a reset pulse, and what its echo may be.
#[derive(Clone, Copy)]
struct ResetByte {
    baud: u32,
    byte: u8,
    /// Bits that are high in every echo: they are looked at when the latest legal presence pulse is over, 300 us after the
    /// release (tPDHIGH + tPDLOW).
    over: u8,
}

/// The reset pulse. Low for five bits, 520.8 us; the line is looked at 52.1, 156.3, 260.4 and 364.6 us after the release.
const RESET: ResetByte = ResetByte { baud: 9_600, byte: 0xF0, over: 0x80 };

/// The reset pulse when nobody was seen to answer the first.
///
/// A presence pulse may begin 15 to 60 us after the release and lasts 60 to 240 us (tPDHIGH, tPDLOW). One that begins after
/// 52.1 us and ends before 156.3 us falls between two looks of [`RESET`], and its echo is that of an empty line. Whatever its
/// delay and width, each legal pulse lasts from 60 to 75 us after the release; so a look at that time misses none. Low for four
/// bits, 555.6 us; the line is looked at 69.4, 208, 347, 486 and 625 us after the release. The first look stays between 60 and
/// 75 us from 6667 to 8333 baud, that is for clocks that are off by as much as 7 %.
const SECOND_LOOK: ResetByte = ResetByte { baud: 7_200, byte: 0xF8, over: 0xE0 };

/// A look at a line that was low for a whole byte. Pulls it low for 104 us, a legal write-0, and then looks at it for eight bits, up
/// to 885 us after the edge: longer than any sensor pulls and any line that could work takes to rise.
const LONG_LOOK: u8 = 0xFF;
const LONG_LOOK_BAUD: u32 = 9_600;

/// A serial port with one start bit, eight data bits, one stop bit and no parity, for [`SerialLine`].
///
/// - `write` sends; the transmitter drives the line through an open-drain output, or through a transistor or diode that only
///   pulls low.
/// - `read` gives what the receiver on the line made of it. It must not wait for ever where nothing comes: after some tens of
///   milliseconds, or more where the port is slow, it is to end in an error of the kind
///   [`TimedOut`](embedded_io::ErrorKind::TimedOut). A byte whose stop bit is low is given like any other, not as an error.
pub trait SerialPort: Read + Write {
    /// Sends and receives at another rate, from the next byte on. Nothing is on its way when this is called.
    ///
    /// # Errors
    /// That of the port, if it has no such rate.
    fn set_baud(&mut self, baud: u32) -> Result<(), Self::Error>;

    /// Throws away what has been received and not been read.
    ///
    /// # Errors
    /// That of the port.
    fn discard_input(&mut self) -> Result<(), Self::Error>;
}

impl<P: SerialPort + ?Sized> SerialPort for &mut P {
    fn set_baud(&mut self, baud: u32) -> Result<(), Self::Error> {
        (**self).set_baud(baud)
    }

    fn discard_input(&mut self) -> Result<(), Self::Error> {
        (**self).discard_input()
    }
}

/// What is wrong between serial port and line. `E` is the error of the port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum SerialError<E> {
    /// Nothing came back of what was sent. The receiver is not joined to the line; or the line was low before and receivers of
    /// this kind wait for it to fall.
    #[error("no echo: the receiver is not joined to the line, or the line is stuck low")]
    NoEcho,
    /// What came back cannot be what was sent: a bit that is pulled low was heard high. Bytes were lost, the transmitter does
    /// not pull the line low, or the port runs at another rate.
    #[error(
        "wrong echo, {echo:02X}h to {sent:02X}h: bytes were lost, the transmitter does not reach the line, or the rate is wrong"
    )]
    WrongEcho {
        /// What was sent.
        sent: u8,
        /// What came back.
        echo: u8,
    },
    /// The port has ended.
    #[error("the serial port has ended")]
    Closed,
    /// The port reported an error.
    #[error("the serial port failed: {0:?}")]
    Port(E),
}

/// A bus master made of a serial port.
///
/// ```text
///  supply ──[4.7k]──┬──── line ── DQ of the sensors
///   TX, open drain ─┤
///   RX ─────────────┘
/// ```
///
/// # What it cannot see
/// A line that takes longer than 4.3 us from the release to the receiver's threshold reads 0 in every slot, as if a sensor pulled:
/// written ones then fail as [`LineError::Disturbed`]. [`LineError::NeverIdleHigh`] is the name only if it has not risen by
/// the end of a byte. A line that goes low between two bytes is seen with the next one that is read or that resets.
///
/// It has no strong pull-up: parasite-powered sensors are refused before they are sent to work.
#[derive(Debug)]
pub struct SerialLine<P, D> {
    port: P,
    delay: D,
    /// The rate the port was last set to.
    baud: Option<u32>,
}

impl<P: SerialPort, D: DelayNs> SerialLine<P, D> {
    /// A line on `port`. Sends nothing.
    pub const fn new(port: P, delay: D) -> Self {
        Self { port, delay, baud: None }
    }

    /// Gives port and delay back. The port's rate is that of the last byte.
    pub fn release(self) -> (P, D) {
        (self.port, self.delay)
    }

    /// Sends one byte and waits for its echo.
    fn exchange(&mut self, baud: u32, byte: u8) -> Result<u8, SerialError<P::Error>> {
        if self.baud != Some(baud) {
            // Not known until it is done.
            self.baud = None;
            self.port.set_baud(baud).map_err(SerialError::Port)?;
            self.baud = Some(baud);
        }
        // What came since the last echo is a pulse between two slots, or too late for its own byte. Taken for this echo, it would
        // shift every bit that is read from now on.
        self.port.discard_input().map_err(SerialError::Port)?;
        if self.port.write(&[byte]).map_err(SerialError::Port)? == 0 {
            return Err(SerialError::Closed);
        }
        self.port.flush().map_err(SerialError::Port)?;
        let mut echo = [0];
        match self.port.read(&mut echo) {
            Ok(0) => Err(SerialError::Closed),
            Ok(_) => {
                let [echo] = echo;
                Ok(echo)
            }
            Err(error) if error.kind() == ErrorKind::TimedOut => Err(SerialError::NoEcho),
            Err(error) => Err(SerialError::Port(error)),
        }
    }

    /// Names the fault of a line that was low for a whole byte.
    fn low_line(&mut self) -> LineError<SerialError<P::Error>> {
        match self.exchange(LONG_LOOK_BAUD, LONG_LOOK) {
            // A receiver that waits for an edge hears nothing; that it is joined to the line has just been seen.
            Ok(0) | Err(SerialError::NoEcho) => LineError::StuckLow,
            Ok(_) => LineError::NeverIdleHigh,
            Err(error) => LineError::Master(error),
        }
    }

    fn reset_by(&mut self, reset: ResetByte) -> Result<Presence, LineError<SerialError<P::Error>>> {
        let ResetByte { baud, byte, over } = reset;
        let echo = self.exchange(baud, byte).map_err(LineError::Master)?;
        if echo == byte {
            return Ok(Presence::Nobody);
        }
        if echo == 0 {
            return Err(self.low_line());
        }
        if echo & !byte != 0 {
            return Err(LineError::Master(SerialError::WrongEcho { sent: byte, echo }));
        }
        // Sensors have let go by then: somebody else pulls.
        if echo & over != over {
            return Err(LineError::Disturbed);
        }
        Ok(Presence::Present)
    }
}

impl<P: SerialPort, D: DelayNs> Line for SerialLine<P, D> {
    type Error = SerialError<P::Error>;

    fn reset(&mut self) -> Result<Presence, LineError<Self::Error>> {
        match self.reset_by(RESET)? {
            Presence::Present => Ok(Presence::Present),
            // Those who were not seen start over with everybody else.
            Presence::Nobody => self.reset_by(SECOND_LOOK),
        }
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Self::Error>> {
        if !bit {
            let echo = self.exchange(SLOT_BAUD, SLOT_ZERO).map_err(LineError::Master)?;
            return match echo {
                SLOT_ZERO => Ok(false),
                _ => Err(LineError::Master(SerialError::WrongEcho { sent: SLOT_ZERO, echo })),
            };
        }
        let echo = self.exchange(SLOT_BAUD, SLOT_ONE).map_err(LineError::Master)?;
        match echo {
            SLOT_ONE => Ok(true),
            // No sensor holds a slot for so long.
            0 => Err(self.low_line()),
            // Low from the first look on, then high for good: zeros below ones.
            _ if (!echo).wrapping_add(1) & !echo == 0 => Ok(false),
            // Low again, or later than any sensor: the sensors have seen another falling edge, and count slots that were not sent.
            _ => Err(LineError::Disturbed),
        }
    }

    fn delay_us(&mut self, us: u32) {
        self.delay.delay_us(us);
    }

    fn slot_us(&self) -> u32 {
        SLOT_US
    }
}
