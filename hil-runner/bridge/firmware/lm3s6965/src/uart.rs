//! A UART of the chip, and the two that it is for: frames to the host, and the line.

use embedded_io::{ErrorKind, ErrorType, Read, Write};
use slotwise::line::SerialPort;
use slotwise_bridge::Incoming;
use slotwise_firmware::{Carrier, Dropped, PATIENCE_MS};

use crate::board::CORE_HZ;
use crate::clock::TickClock;
use crate::registers::Register;

const DATA: usize = 0x000;
const FLAGS: usize = 0x018;
const FLAG_BUSY: u32 = 1 << 3;
const FLAG_NOTHING_RECEIVED: u32 = 1 << 4;
const FLAG_SENDER_FULL: u32 = 1 << 5;
/// The rate: 16 bit times in core cycles, whole and in 64ths.
const DIVIDER: usize = 0x024;
const DIVIDER_64THS: usize = 0x028;
const FRAME: usize = 0x02C;
/// Eight data bits, no parity, one stop bit, queues of 16 bytes.
const FRAME_8N1_QUEUED: u32 = 0b11 << 5 | 1 << 4;
const CONTROL: usize = 0x030;
/// Receiver, transmitter, and all of it on.
const CONTROL_ON: u32 = 1 << 9 | 1 << 8 | 1;

/// How long a byte on the line may take to come back, in milliseconds. The longest takes 1.4 ms; but where the chip is emulated on
/// a machine with much to do, whoever is at the far end may not get a turn for long.
const ECHO_WITHIN_MS: u32 = 1_000;
/// Core cycles between two polls while waiting: 5 us, little beside the 87 us of a slot. An emulation has no turn for anything
/// else while a register is read.
const LOOK_PAUSE_CYCLES: u32 = 250;

/// A UART.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Uart {
    base: usize,
}

impl Uart {
    /// The UART whose registers begin here.
    pub(crate) const fn at(base: usize) -> Self {
        Self { base }
    }

    const fn register(self, offset: usize) -> Register {
        Register::at(self.base + offset)
    }

    /// Sends and receives at this rate from now on.
    pub(crate) fn start(self, baud: u32) {
        // 64 bit times in sixteenths: four core cycles per baud, rounded.
        let divider = (CORE_HZ * 4 + baud / 2).checked_div(baud).unwrap_or(u32::MAX);
        self.register(CONTROL).write(0);
        self.register(DIVIDER).write(divider >> 6);
        self.register(DIVIDER_64THS).write(divider & 0x3F);
        // The rate is taken over with this one.
        self.register(FRAME).write(FRAME_8N1_QUEUED);
        self.register(CONTROL).write(CONTROL_ON);
    }

    /// The next byte that has come. One with a low stop bit counts like any other.
    fn take(self) -> Option<u8> {
        // The error flags of a byte are above its eight bits.
        (!self.register(FLAGS).has(FLAG_NOTHING_RECEIVED)).then(|| self.register(DATA).read() as u8)
    }

    fn is_busy(self) -> bool {
        self.register(FLAGS).has(FLAG_BUSY)
    }

    /// Sends a byte if there is room for it.
    fn give(self, byte: u8) -> Option<()> {
        (!self.register(FLAGS).has(FLAG_SENDER_FULL)).then(|| self.register(DATA).write(u32::from(byte)))
    }
}

/// What has not happened in time.
#[derive(Clone, Copy, Debug)]
struct Late;

/// Tries until something comes of it.
fn within<T>(clock: &TickClock, ms: u32, mut attempt: impl FnMut() -> Option<T>) -> Result<T, Late> {
    let since = clock.now();
    let patience = (CORE_HZ / 1_000).saturating_mul(ms);
    loop {
        if let Some(done) = attempt() {
            return Ok(done);
        }
        if clock.now().wrapping_sub(since) >= patience {
            return Err(Late);
        }
        cortex_m::asm::delay(LOOK_PAUSE_CYCLES);
    }
}

/// Frames through a UART.
pub(crate) struct FrameCarrier<'a> {
    uart: Uart,
    clock: &'a TickClock,
}

impl<'a> FrameCarrier<'a> {
    /// Opens it.
    pub(crate) fn start(uart: Uart, baud: u32, clock: &'a TickClock) -> Self {
        uart.start(baud);
        Self { uart, clock }
    }
}

impl Incoming for FrameCarrier<'_> {
    fn receive(&mut self) -> Option<u8> {
        self.uart.take()
    }
}

impl Carrier for FrameCarrier<'_> {
    fn send(&mut self, frame: &[u8]) -> Result<(), Dropped> {
        for byte in frame {
            within(self.clock, PATIENCE_MS, || self.uart.give(*byte)).map_err(|Late| Dropped)?;
        }
        Ok(())
    }
}

/// The UART on the line.
pub(crate) struct LinePort<'a> {
    uart: Uart,
    clock: &'a TickClock,
}

impl<'a> LinePort<'a> {
    /// The port. It is started with its first rate.
    pub(crate) const fn new(uart: Uart, clock: &'a TickClock) -> Self {
        Self { uart, clock }
    }
}

impl ErrorType for LinePort<'_> {
    type Error = ErrorKind;
}

impl Read for LinePort<'_> {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, ErrorKind> {
        let Some(place) = bytes.first_mut() else { return Ok(0) };
        *place = within(self.clock, ECHO_WITHIN_MS, || self.uart.take()).map_err(|Late| ErrorKind::TimedOut)?;
        Ok(1)
    }
}

impl Write for LinePort<'_> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        let Some(byte) = bytes.first() else { return Ok(0) };
        within(self.clock, ECHO_WITHIN_MS, || self.uart.give(*byte)).map_err(|Late| ErrorKind::WriteZero)?;
        Ok(1)
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        within(self.clock, ECHO_WITHIN_MS, || (!self.uart.is_busy()).then_some(())).map_err(|Late| ErrorKind::Other)
    }
}

impl SerialPort for LinePort<'_> {
    fn set_baud(&mut self, baud: u32) -> Result<(), ErrorKind> {
        self.flush()?;
        self.uart.start(baud);
        Ok(())
    }

    fn discard_input(&mut self) -> Result<usize, ErrorKind> {
        // No more than the queue holds, whatever comes meanwhile.
        Ok((0..16).map_while(|_| self.uart.take()).count())
    }
}
