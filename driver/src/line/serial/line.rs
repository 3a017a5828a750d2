//! The bus master: resets, slots, and many slots in one piece.

use embedded_hal::delay::DelayNs;
use embedded_io::{Error, ErrorKind};

use super::port::{SerialError, SerialPort};
use super::slot::{EchoMeaning, Slot};
use crate::line::master::MOST_BITS;
use crate::line::{Line, LineError, NoStrongPullUp, Presence, StrongPullUp, SwitchError};

/// Rate of a byte that is one slot. Write-0 stays within its limits from 75000 to 150000 baud; the sample is before 15 us above
/// 100000 baud.
const SLOT_BAUD: u32 = 115_200;
/// Ten bits of 8.68 us, rounded down: polling must not count time that has not passed.
const SLOT_US: u32 = 86;

/// A byte that is a reset pulse, and what its echo may be.
#[derive(Clone, Copy)]
struct ResetByte {
    baud: u32,
    byte: u8,
    /// Bits that are high in every echo: they are sampled when the latest legal presence pulse is over, 300 us after the
    /// release (tPDHIGH + tPDLOW).
    over: u8,
}

/// The reset pulse. Low for five bits, 520.8 us; the line is sampled 52.1, 156.3, 260.4 and 364.6 us after the release.
const RESET: ResetByte = ResetByte { baud: 9_600, byte: 0xF0, over: 0x80 };

/// The reset pulse when no sensor answered the first.
///
/// A presence pulse may begin 15 to 60 us after the release and lasts 60 to 240 us (tPDHIGH, tPDLOW). One that begins after
/// 52.1 us and ends before 156.3 us falls between two samples of [`RESET`], and its echo is that of an empty line. Whatever its
/// delay and width, each legal pulse lasts from 60 to 75 us after the release; so a sample at that time misses none. Low for four
/// bits, 555.6 us; the line is sampled 69.4, 208, 347, 486 and 625 us after the release. The first sample stays between 60 and
/// 75 us from 6667 to 8333 baud, that is for clocks that are off by as much as 7 %.
const SECOND_RESET: ResetByte = ResetByte { baud: 7_200, byte: 0xF8, over: 0xE0 };

/// The same on a port that has no 7200 baud. Low for three bits, 625 us; the line is sampled 104, 313 and 521 us after the release. A
/// pulse that [`RESET`] has missed began after 52.1 us and lasts 60 us, so the first of these samples finds it, as long as the sensor
/// does not answer this reset sooner by 8 us than the one before. Holds for clocks that are off by as much as 7 %.
const THIRD_RESET: ResetByte = ResetByte { baud: 4_800, byte: 0xFC, over: 0xF0 };

/// Checks a line that was low for a whole byte. Pulls it low for 104 us, a legal write-0, and then samples it for eight bits, up
/// to 885 us after the edge: longer than any sensor pulls and any line that could work takes to rise.
const LONG_CHECK: u8 = 0xFF;
const LONG_CHECK_BAUD: u32 = 9_600;

/// Bytes that are handed to the port, or taken from it, at once. Chosen: two or three calls for a transaction on a host, and small
/// on the stack of a microcontroller.
const CHUNK: usize = 64;

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
/// # How much goes out at once
/// Whole transactions, as far as [`SerialPort::echo_room`] allows; each echo is held against its byte all the same. So the time that
/// an adapter takes for an exchange is paid once for a transaction, not once for a slot.
///
/// # Strong pull-up
/// The line must be powered within 10 us of the last bit of a command (tSPON, DS18B20 datasheet (7/19), AC table). No host can
/// throw a switch in that time after it has received the echo. So the switch is thrown before the command is written, and the
/// wiring keeps it open while the transmitter pulls:
///
/// ```text
///  supply ──────[P-FET]──[resistor]── line     conducts only while the switch is on AND TX is high
///                  └ gate ── NAND ── switch, TX
///
///  switch     ______/‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾
///  TX         ‾‾‾‾‾‾‾‾‾\_/‾‾‾‾‾‾\______/‾\______/‾‾‾‾‾‾‾    the last bits of the command
///  P-FET      ______/‾‾\_/‾‾‾‾‾‾\______/‾\______/‾‾‾‾‾‾‾    on from the very release of the last bit
/// ```
/// A command consists of write slots only, in which no sensor pulls; and Convert T (44h) and Copy Scratchpad (48h) end in a 0, so
/// the line was low until the moment it is powered. A transistor that conducts against the transmitter shows as a wrong echo.
/// Without such wiring leave it out: parasite-powered sensors are then refused before a command is sent. **No hardware has
/// confirmed this.**
///
/// # Rates
/// 9600 and 115200 baud. Where no sensor is seen at 9600 baud, the line is checked once more at 7200, or 4800 where the port has no
/// 7200: some presence pulses fall between two samples of the first. A port that has neither answers [`Presence::Absent`] all the same,
/// and [`presence_unchecked`](Self::presence_unchecked) says what is not known then.
#[derive(Debug)]
pub struct SerialLine<P, D, S = NoStrongPullUp> {
    port: P,
    delay: D,
    /// The rate the port was last set to.
    baud: Option<u32>,
    pull_up: S,
    powered: bool,
    /// Whether the last reset was not repeated at another rate, as the port has none.
    checked_once: bool,
}

/// Presence pulses that a port without 7200 and 4800 baud cannot see.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[error(
    "the port has neither 7200 nor 4800 baud: a presence pulse that begins later than 52 us after the reset and is over by 156 us was \
     not sampled"
)]
pub struct PresenceUnchecked;

impl<P, D> SerialLine<P, D> {
    /// The rates of the first reset, of slots, and of the second reset. The first is the first that is used; the last may be missing.
    pub const RATES: [u32; 3] = [RESET.baud, SLOT_BAUD, SECOND_RESET.baud];
}

impl<P: SerialPort, D: DelayNs> SerialLine<P, D> {
    /// A line on `port`, without a strong pull-up. Sends nothing.
    pub const fn new(port: P, delay: D) -> Self {
        Self { port, delay, baud: None, pull_up: NoStrongPullUp, powered: false, checked_once: false }
    }
}

impl<P: SerialPort, D: DelayNs, S: StrongPullUp> SerialLine<P, D, S> {
    /// The same line with another strong pull-up, which only conducts while the transmitter is idle, see [`SerialLine`]. Both switches
    /// are opened.
    ///
    /// When `on` and `off` of the switch return, it must have moved.
    ///
    /// # Errors
    /// [`SwitchError`] if one of them failed.
    pub fn with_gated_pull_up<T: StrongPullUp>(mut self, mut pull_up: T) -> Result<SerialLine<P, D, T>, SwitchError> {
        self.pull_up.off()?;
        pull_up.off()?;
        let Self { port, delay, baud, checked_once, .. } = self;
        Ok(SerialLine { port, delay, baud, pull_up, powered: false, checked_once })
    }

    /// What the last [`Presence::Absent`] leaves open. None: nothing, or there was another answer.
    pub const fn presence_unchecked(&self) -> Option<PresenceUnchecked> {
        if self.checked_once { Some(PresenceUnchecked) } else { None }
    }

    /// Gives port, delay and strong pull-up back. Opens the switch; an error of it is not returned. The port's rate is that of
    /// the last byte.
    pub fn release(mut self) -> (P, D, S) {
        let _ = self.pull_up.off();
        (self.port, self.delay, self.pull_up)
    }

    /// Nothing is on its way, and the next byte is sent at this rate.
    fn begin(&mut self, baud: u32) -> Result<(), SerialError<P::Error>> {
        if self.baud != Some(baud) {
            // Not known until it is done.
            self.baud = None;
            self.port.set_baud(baud).map_err(SerialError::Port)?;
            self.baud = Some(baud);
        }
        // What was received since the last echo is a pulse between two slots, or too late for its own byte. Taken for this echo, it would
        // shift every bit that is read from now on.
        self.port.discard_input().map_err(SerialError::Port)?;
        Ok(())
    }

    fn give(&mut self, mut bytes: &[u8]) -> Result<(), SerialError<P::Error>> {
        while !bytes.is_empty() {
            let taken = self.port.write(bytes).map_err(SerialError::Port)?;
            if taken == 0 {
                return Err(SerialError::Closed);
            }
            bytes = bytes.get(taken..).unwrap_or_default();
        }
        Ok(())
    }

    /// Takes what has come, at least one byte.
    fn take(&mut self, bytes: &mut [u8]) -> Result<usize, SerialError<P::Error>> {
        match self.port.read(bytes) {
            Ok(0) => Err(SerialError::Closed),
            Ok(count) => Ok(count),
            Err(error) if error.kind() == ErrorKind::TimedOut => Err(SerialError::NoEcho),
            Err(error) => Err(SerialError::Port(error)),
        }
    }

    /// Sends one byte and waits for its echo.
    fn exchange(&mut self, baud: u32, byte: u8) -> Result<u8, SerialError<P::Error>> {
        self.begin(baud)?;
        self.give(&[byte])?;
        self.port.flush().map_err(SerialError::Port)?;
        let mut echo = [0];
        self.take(&mut echo)?;
        let [echo] = echo;
        Ok(echo)
    }

    /// Sends slots and takes their echoes, as many at once as the port has room for, and holds each echo against its slot.
    fn run(
        &mut self,
        count: usize,
        slot: impl Fn(usize) -> Slot,
        mut receive: impl FnMut(usize, bool),
    ) -> Result<(), LineError<SerialError<P::Error>>> {
        self.begin(SLOT_BAUD).map_err(LineError::Master)?;
        let room = self.port.echo_room().max(1);
        let (mut sent, mut received) = (0, 0);
        let mut worst = EchoMeaning::Bit(true);
        // Once something is wrong nothing more is sent; but what is on its way comes back, and may say what it is.
        while received < sent || (sent < count && worst.rank() == 0) {
            while sent < count && sent - received < room && worst.rank() == 0 {
                let now = CHUNK.min(count - sent).min(room - (sent - received));
                let mut bytes = [0; CHUNK];
                let bytes = bytes.get_mut(..now).unwrap_or_default();
                for (place, byte) in (sent..).zip(bytes.iter_mut()) {
                    *byte = slot(place).byte();
                }
                self.give(bytes).map_err(LineError::Master)?;
                sent += now;
            }
            self.port.flush().map_err(SerialError::Port).map_err(LineError::Master)?;
            let mut echoes = [0; CHUNK];
            // No more than are due: what is left over afterwards was never sent.
            let due = echoes.get_mut(..CHUNK.min(sent - received)).unwrap_or_default();
            let taken = match self.take(due) {
                Ok(taken) => taken,
                // A line that was seen low, or that cannot be this one, has a name of its own: a receiver that waits for an edge
                // receives nothing more from a line that went low and stayed.
                Err(SerialError::NoEcho) if worst.rank() >= EchoMeaning::Low.rank() => break,
                Err(SerialError::NoEcho) if received > 0 => {
                    return Err(LineError::Master(SerialError::LostEcho { sent, received }));
                }
                Err(error) => return Err(LineError::Master(error)),
            };
            for (place, echo) in (received..).zip(due.iter().take(taken)) {
                match slot(place).meaning(*echo) {
                    EchoMeaning::Bit(bit) => receive(place, bit),
                    odd if odd.rank() > worst.rank() => worst = odd,
                    _ => {}
                }
            }
            received += taken;
        }
        match worst {
            EchoMeaning::Bit(_) => {
                // Between single slots it is the same as noise, which shifts nothing there.
                let extra = if count > 1 { self.port.discard_input().map_err(SerialError::Port) } else { Ok(0) };
                match extra.map_err(LineError::Master)? {
                    0 => Ok(()),
                    extra => Err(LineError::Master(SerialError::ExtraEcho { sent, extra })),
                }
            }
            EchoMeaning::Disturbed => Err(LineError::Disturbed),
            EchoMeaning::Low => Err(self.low_line()),
            EchoMeaning::Impossible { sent, echo } => Err(LineError::Master(SerialError::WrongEcho { sent, echo })),
        }
    }

    /// Names the fault of a line that was low for a whole byte.
    fn low_line(&mut self) -> LineError<SerialError<P::Error>> {
        match self.exchange(LONG_CHECK_BAUD, LONG_CHECK) {
            // A receiver that waits for an edge receives nothing; that it is joined to the line has just been seen.
            Ok(0) | Err(SerialError::NoEcho) => LineError::StuckLow,
            Ok(_) => LineError::NeverIdleHigh,
            Err(error) => LineError::Master(error),
        }
    }

    fn reset_by(&mut self, reset: ResetByte) -> Result<Presence, LineError<SerialError<P::Error>>> {
        let ResetByte { baud, byte, over } = reset;
        let echo = self.exchange(baud, byte).map_err(LineError::Master)?;
        if echo == byte {
            return Ok(Presence::Absent);
        }
        if echo == 0 {
            return Err(self.low_line());
        }
        if echo & !byte != 0 {
            return Err(LineError::Master(SerialError::WrongEcho { sent: byte, echo }));
        }
        // Sensors have released the line by then: another party pulls it low.
        if echo & over != over {
            return Err(LineError::Disturbed);
        }
        Ok(Presence::Present)
    }
}

/// Whether a port says that it has no such rate.
fn is_no_rate(error: &impl Error) -> bool {
    matches!(error.kind(), ErrorKind::Unsupported | ErrorKind::InvalidInput)
}

impl<P: SerialPort, D: DelayNs, S: StrongPullUp> Line for SerialLine<P, D, S> {
    type Error = SerialError<P::Error>;

    fn reset(&mut self) -> Result<Presence, LineError<Self::Error>> {
        self.end_power()?;
        self.checked_once = false;
        if self.reset_by(RESET)? == Presence::Present {
            return Ok(Presence::Present);
        }
        // Sensors that were not seen start over with all others.
        for reset in [SECOND_RESET, THIRD_RESET] {
            match self.reset_by(reset) {
                Err(LineError::Master(SerialError::Port(error))) if self.baud.is_none() && is_no_rate(&error) => {}
                outcome => return outcome,
            }
        }
        self.checked_once = true;
        Ok(Presence::Absent)
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Self::Error>> {
        self.end_power()?;
        let slot = if bit { Slot::Read } else { Slot::WriteZero };
        let mut read = bit;
        self.run(1, |_| slot, |_, bit| read = bit)?;
        Ok(read)
    }

    fn delay_us(&mut self, us: u32) {
        self.delay.delay_us(us);
    }

    fn slot_us(&self) -> u32 {
        SLOT_US
    }

    fn write_byte_and_power(&mut self, byte: u8) -> Result<(), LineError<Self::Error>> {
        if !S::FITTED {
            return Err(LineError::StrongPullUp(SwitchError::Missing));
        }
        // On from here as the switch goes; the wiring keeps it open whenever the transmitter pulls.
        self.powered = true;
        self.pull_up.on()?;
        let written = self.run(8, |place| Slot::write(byte >> place & 1 == 1), |_, _| {});
        if written.is_err() {
            // That error is the one to report.
            let _ = self.end_power();
        }
        written
    }

    fn end_power(&mut self) -> Result<(), LineError<Self::Error>> {
        if self.powered {
            self.pull_up.off()?;
            self.powered = false;
        }
        Ok(())
    }

    fn write_byte(&mut self, byte: u8) -> Result<(), LineError<Self::Error>> {
        self.transfer(&[&[byte]], &mut [])
    }

    fn read_byte(&mut self) -> Result<u8, LineError<Self::Error>> {
        let mut byte = [0];
        self.read(&mut byte)?;
        let [byte] = byte;
        Ok(byte)
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LineError<Self::Error>> {
        self.transfer(&[bytes], &mut [])
    }

    fn read(&mut self, bytes: &mut [u8]) -> Result<(), LineError<Self::Error>> {
        self.transfer(&[], bytes)
    }

    fn transfer(&mut self, write: &[&[u8]], read: &mut [u8]) -> Result<(), LineError<Self::Error>> {
        self.end_power()?;
        let writes: usize = write.iter().map(|part| 8 * part.len()).sum();
        let slot = |place: usize| {
            let byte = write.iter().copied().flatten().nth(place / 8);
            byte.map_or(Slot::Read, |byte| Slot::write(byte >> (place % 8) & 1 == 1))
        };
        let count = writes + 8 * read.len();
        read.fill(0);
        self.run(count, slot, |place, bit| {
            if let Some(place) = place.checked_sub(writes)
                && let Some(byte) = read.get_mut(place / 8)
            {
                *byte |= u8::from(bit) << (place % 8);
            }
        })
    }

    fn transfer_bits(&mut self, bits: u16, writes: u8, reads: u8) -> Result<u16, LineError<Self::Error>> {
        self.end_power()?;
        let (writes, reads) = (usize::from(writes.min(MOST_BITS)), usize::from(reads.min(MOST_BITS)));
        let slot = |place: usize| if place < writes { Slot::write(bits >> place & 1 == 1) } else { Slot::Read };
        let mut read = 0;
        self.run(writes + reads, slot, |place, bit| {
            if let Some(place) = place.checked_sub(writes) {
                read |= u16::from(bit) << place;
            }
        })?;
        Ok(read)
    }
}
