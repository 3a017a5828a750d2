//! A port made of a UART of a chip, as HALs offer it by way of `embedded-io`.

use embedded_hal::delay::DelayNs;
use embedded_io::{Error, ErrorKind, ErrorType, Read, ReadReady, Write};

use super::port::SerialPort;

/// Between two looks at the receiver: little beside the 87 us of a slot.
const LOOK_EVERY_US: u32 = 5;
/// How long an echo may take. The longest byte takes 2.1 ms, at 4800 baud; the rest is room for interrupts (chosen).
const ECHO_WITHIN_US: u32 = 20_000;
/// The most bytes that are thrown away at once, for a receiver that never runs dry because the line never rests.
const DISCARDED_AT_MOST: usize = 256;
/// What a byte with a low stop bit is taken for.
const LOW_THROUGHOUT: u8 = 0x00;

/// A UART has no such rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[error("the UART has no such rate")]
pub struct NoSuchRate;

/// How a [`UartPort`] fails. `E` is the error of the UART.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum UartError<E> {
    /// Nothing was received in time.
    #[error("the UART received nothing in time")]
    Late,
    /// It has no such rate.
    #[error("the UART cannot do {baud} baud")]
    Rate {
        /// The rate that was asked for.
        baud: u32,
    },
    /// The UART reported an error.
    #[error("the UART failed: {0:?}")]
    Uart(E),
}

impl<E: Error> Error for UartError<E> {
    fn kind(&self) -> ErrorKind {
        match self {
            Self::Late => ErrorKind::TimedOut,
            Self::Rate { .. } => ErrorKind::Unsupported,
            Self::Uart(error) => error.kind(),
        }
    }
}

/// A [`SerialPort`] on a UART that has the blocking traits of `embedded-io`, [`ReadReady`] among them, and a delay.
///
/// No trait of `embedded-io` sets a rate, so a closure does:
///
/// ```
/// # use embedded_io::{ErrorType, Read, ReadReady, Write};
/// # struct Uart;
/// # #[derive(Debug)] enum UartReadError { Framing, Break, Overrun }
/// # impl core::fmt::Display for UartReadError {
/// #     fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result { f.write_str("failed") }
/// # }
/// # impl core::error::Error for UartReadError {}
/// # impl embedded_io::Error for UartReadError {
/// #     fn kind(&self) -> embedded_io::ErrorKind { embedded_io::ErrorKind::Other }
/// # }
/// # impl ErrorType for Uart { type Error = UartReadError; }
/// # impl Read for Uart { fn read(&mut self, _: &mut [u8]) -> Result<usize, UartReadError> { Err(UartReadError::Overrun) } }
/// # impl ReadReady for Uart { fn read_ready(&mut self) -> Result<bool, UartReadError> { Ok(false) } }
/// # impl Write for Uart {
/// #     fn write(&mut self, bytes: &[u8]) -> Result<usize, UartReadError> { Ok(bytes.len()) }
/// #     fn flush(&mut self) -> Result<(), UartReadError> { Ok(()) }
/// # }
/// # impl Uart { fn set_rate(&mut self, _: u32) -> Result<(), ()> { Ok(()) } }
/// # fn line(uart: Uart, delay: impl embedded_hal::delay::DelayNs + Clone) {
/// use slotwise::bus::Bus;
/// use slotwise::line::{NoSuchRate, SerialLine, UartPort};
///
/// let port = UartPort::new(uart, delay.clone(), |uart: &mut Uart, baud| uart.set_rate(baud).map_err(|_| NoSuchRate))
///     .with_framing_errors(|error| matches!(error, UartReadError::Framing | UartReadError::Break));
/// let bus = Bus::new(SerialLine::new(port, delay));
/// # }
/// ```
///
/// # HALs that drop a byte with a low stop bit
/// A line that is low at the end of a byte is a fault that [`SerialLine`](super::SerialLine) names, if it receives the byte. Many HALs
/// report a framing error (or a break) instead and drop the byte. On a bus no byte but one ends so: the line was low, throughout or from
/// the middle on. So such an error is given as the byte 00h, and the line is then checked and named as
/// [`StuckLow`](crate::line::LineError::StuckLow) or [`NeverIdleHigh`](crate::line::LineError::NeverIdleHigh).
///
/// Errors of the kind [`InvalidData`](ErrorKind::InvalidData) count as framing errors. Not every HAL gives them that kind:
/// [`with_framing_errors`](Self::with_framing_errors) says which they are. Where the HAL reports one error for all, leave it: an
/// overrun that is taken for a low line sends people to the wiring. The fault is then a
/// [`SerialError::Port`](super::SerialError::Port), and never a number. A HAL that drops such bytes without an error ends in
/// [`SerialError::NoEcho`](super::SerialError::NoEcho), which names the low line as one of two causes.
#[derive(Debug)]
pub struct UartPort<U: ErrorType, D, B> {
    uart: U,
    delay: D,
    set_rate: B,
    is_framing_error: fn(&U::Error) -> bool,
    echo_room: usize,
}

impl<U, D, B> UartPort<U, D, B>
where
    U: Read + ReadReady + Write,
    D: DelayNs,
    B: FnMut(&mut U, u32) -> Result<(), NoSuchRate>,
{
    /// A port on `uart`: eight data bits, no parity, one stop bit. `set_rate` sets its rate in baud, when all has been sent; the rate
    /// may be off by 4 %. Sends nothing.
    pub fn new(uart: U, delay: D, set_rate: B) -> Self {
        Self { uart, delay, set_rate, is_framing_error: |error| error.kind() == ErrorKind::InvalidData, echo_room: 1 }
    }

    /// The same port with errors of the UART that stand for a byte with a low stop bit, which the HAL has dropped.
    #[must_use]
    pub fn with_framing_errors(self, is_framing_error: fn(&U::Error) -> bool) -> Self {
        Self { is_framing_error, ..self }
    }

    /// The same port with a receiver that keeps so many bytes until they are read, see [`SerialPort::echo_room`]; 1 if nothing is said.
    #[must_use]
    pub fn with_echo_room(self, bytes: usize) -> Self {
        Self { echo_room: bytes, ..self }
    }

    /// Gives UART and delay back. The rate is that of the last byte.
    pub fn release(self) -> (U, D) {
        (self.uart, self.delay)
    }

    /// What was received, a framing error as the byte it stands for.
    fn receive(&mut self, bytes: &mut [u8]) -> Result<usize, UartError<U::Error>> {
        match self.uart.read(bytes) {
            Ok(count) => Ok(count),
            Err(error) if (self.is_framing_error)(&error) => {
                let Some(byte) = bytes.first_mut() else { return Ok(0) };
                *byte = LOW_THROUGHOUT;
                Ok(1)
            }
            Err(error) => Err(UartError::Uart(error)),
        }
    }
}

impl<U: ErrorType, D, B> ErrorType for UartPort<U, D, B> {
    type Error = UartError<U::Error>;
}

impl<U, D, B> Read for UartPort<U, D, B>
where
    U: Read + ReadReady + Write,
    D: DelayNs,
    B: FnMut(&mut U, u32) -> Result<(), NoSuchRate>,
{
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, Self::Error> {
        for _ in 0..ECHO_WITHIN_US / LOOK_EVERY_US {
            if self.uart.read_ready().map_err(UartError::Uart)? {
                return self.receive(bytes);
            }
            self.delay.delay_us(LOOK_EVERY_US);
        }
        Err(UartError::Late)
    }
}

impl<U, D, B> Write for UartPort<U, D, B>
where
    U: Read + ReadReady + Write,
    D: DelayNs,
    B: FnMut(&mut U, u32) -> Result<(), NoSuchRate>,
{
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Self::Error> {
        self.uart.write(bytes).map_err(UartError::Uart)
    }

    fn flush(&mut self) -> Result<(), Self::Error> {
        self.uart.flush().map_err(UartError::Uart)
    }
}

impl<U, D, B> SerialPort for UartPort<U, D, B>
where
    U: Read + ReadReady + Write,
    D: DelayNs,
    B: FnMut(&mut U, u32) -> Result<(), NoSuchRate>,
{
    fn set_baud(&mut self, baud: u32) -> Result<(), Self::Error> {
        self.flush()?;
        (self.set_rate)(&mut self.uart, baud).map_err(|NoSuchRate| UartError::Rate { baud })
    }

    fn discard_input(&mut self) -> Result<usize, Self::Error> {
        let mut discarded = 0;
        while discarded < DISCARDED_AT_MOST && self.uart.read_ready().map_err(UartError::Uart)? {
            // An error that is left over is of a byte that is thrown away too.
            discarded += self.uart.read(&mut [0]).unwrap_or(1);
        }
        Ok(discarded)
    }

    fn echo_room(&self) -> usize {
        self.echo_room
    }
}
