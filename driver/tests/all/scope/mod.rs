//! A serial port on a line, as an oscilloscope sees it: what is sent becomes pulses, and looks at the line become echoes.
#![allow(clippy::unwrap_used, dead_code)] // helpers of tests, of which each file uses some

use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;

use embedded_hal::delay::DelayNs;
use embedded_io::{ErrorKind, ErrorType, Read, Write};
use slotwise::line::{SerialLine, SerialPort};

/// What others do to the line.
#[derive(Clone, Copy, Default)]
pub struct Others {
    /// A presence pulse after each reset pulse: from, to, in nanoseconds after the release.
    pub presence_ns: Option<(u64, u64)>,
    /// Low in each slot from the falling edge on, for so long.
    pub slot_low_ns: u64,
    /// Low once more in each slot: from, to, in nanoseconds after the falling edge.
    pub slot_again_ns: Option<(u64, u64)>,
    /// Low all the time.
    pub held_low: bool,
}

/// What is wrong with the wiring or the port.
#[derive(Clone, Copy, Default, PartialEq)]
pub enum Wiring {
    #[default]
    Right,
    /// The receiver is joined to nothing.
    NoReceiver,
    /// The transmitter does not pull the line.
    NoTransmitter,
    /// As other receivers do: no byte without a falling edge.
    NeedsEdge,
    /// Takes no bytes any more.
    Ended,
    /// Every call fails.
    Broken,
    /// The echo of this slot is lost on the way.
    Loses(usize),
    /// The echo of this slot comes after that of the next.
    Swaps(usize),
    /// This byte comes once more, after the echo of this slot.
    Adds(usize, u8),
}

/// One byte on the line, as the oscilloscope has it.
#[derive(Clone, Copy, Debug)]
pub struct Pulse {
    pub baud: u32,
    /// How long the line was driven low from the falling edge on.
    pub low_ns: u64,
    /// When the receiver first looked at the released line, after the falling edge.
    pub first_look_ns: u64,
}

#[derive(Default)]
pub struct Scope {
    pub baud: u32,
    pub others: Others,
    pub wiring: Wiring,
    /// Clock of the port, in thousandths of the right one.
    pub clock_permille: u64,
    pub pulses: Vec<Pulse>,
    pub input: VecDeque<u8>,
    pub delayed_ns: u64,
    pub discarded: usize,
    /// What the port says that it keeps.
    pub room: usize,
    /// The most that it ever had to keep.
    pub kept: usize,
    /// No more than so many bytes are taken, or given, at once.
    pub at_once: usize,
    /// Slots in which a sensor pulls for 30 us, counted from the first.
    pub pulled: Vec<usize>,
    /// The line is shorted in this slot, counted from the first, after its falling edge, and stays so.
    pub shorted_in: Option<usize>,
    /// Rates that the port does not have.
    pub missing_rates: Vec<u32>,
    /// Times that something was read after something was written.
    pub round_trips: usize,
    written: bool,
}

impl Scope {
    fn send(&mut self, byte: u8) {
        let half_bit_ns = 500_000_000 * 1_000 / u64::from(self.baud) / self.clock_permille;
        let zeros = u64::from(byte.trailing_zeros());
        let low_ns = 2 * half_bit_ns * (1 + zeros);
        self.pulses.push(Pulse { baud: self.baud, low_ns, first_look_ns: half_bit_ns * (2 * zeros + 3) });
        let place = self.pulses.len() - 1;
        let shorted = self.shorted_in.is_some_and(|first| place >= first);
        let falls = !self.others.held_low && self.shorted_in.is_none_or(|first| place <= first);
        if self.wiring == Wiring::NoReceiver || (self.wiring == Wiring::NeedsEdge && !falls) {
            return;
        }
        let is_reset = low_ns >= 400_000;
        let pulled = self.pulled.contains(&place);
        let driven = self.wiring != Wiring::NoTransmitter;
        let level = |at_ns: u64| {
            let Others { presence_ns, slot_low_ns, slot_again_ns, held_low } = self.others;
            let inside = |span: Option<(u64, u64)>, at_ns| span.is_some_and(|(from, to)| (from..to).contains(&at_ns));
            // Bits after the zeros are ones in every byte that makes sense here.
            let master = driven && at_ns < low_ns;
            let sensors = if is_reset {
                at_ns >= low_ns && inside(presence_ns, at_ns - low_ns)
            } else {
                at_ns < slot_low_ns || (pulled && at_ns < 30_000) || inside(slot_again_ns, at_ns)
            };
            !(held_low || shorted || master || sensors)
        };
        let echo = (0..8).map(|bit| u8::from(level(half_bit_ns * (2 * bit + 3))) << bit).sum();
        match self.wiring {
            Wiring::Loses(lost) if lost == place => {}
            Wiring::Swaps(first) if first + 1 == place => {
                let before = self.input.pop_back().unwrap();
                self.input.extend([echo, before]);
            }
            Wiring::Adds(after, byte) if after == place => self.input.extend([echo, byte]),
            _ => self.input.push_back(echo),
        }
        self.kept = self.kept.max(self.input.len());
    }
}

#[derive(Clone)]
pub struct Port(pub Rc<RefCell<Scope>>);

impl ErrorType for Port {
    type Error = ErrorKind;
}

impl Read for Port {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, ErrorKind> {
        let mut scope = self.0.borrow_mut();
        scope.round_trips += usize::from(std::mem::take(&mut scope.written));
        let count = bytes.len().min(scope.input.len()).min(scope.at_once);
        for (place, echo) in bytes.iter_mut().zip(scope.input.drain(..count)) {
            *place = echo;
        }
        if count > 0 { Ok(count) } else { Err(ErrorKind::TimedOut) }
    }
}

impl Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        let mut scope = self.0.borrow_mut();
        match scope.wiring {
            Wiring::Ended => return Ok(0),
            Wiring::Broken => return Err(ErrorKind::BrokenPipe),
            _ => {}
        }
        let count = bytes.len().min(scope.at_once);
        for byte in &bytes[..count] {
            scope.send(*byte);
        }
        scope.written = true;
        Ok(count)
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        Ok(())
    }
}

impl SerialPort for Port {
    fn set_baud(&mut self, baud: u32) -> Result<(), ErrorKind> {
        let mut scope = self.0.borrow_mut();
        if scope.missing_rates.contains(&baud) {
            return Err(ErrorKind::Unsupported);
        }
        scope.baud = baud;
        Ok(())
    }

    fn discard_input(&mut self) -> Result<usize, ErrorKind> {
        let mut scope = self.0.borrow_mut();
        let discarded = scope.input.len();
        scope.discarded += discarded;
        scope.input.clear();
        Ok(discarded)
    }

    fn echo_room(&self) -> usize {
        self.0.borrow().room
    }
}

impl DelayNs for Port {
    fn delay_ns(&mut self, ns: u32) {
        self.0.borrow_mut().delayed_ns += u64::from(ns);
    }
}

pub type Scoped = (Rc<RefCell<Scope>>, SerialLine<Port, Port>);

pub fn line(others: Others) -> Scoped {
    wired(others, Wiring::Right)
}

pub fn wired(others: Others, wiring: Wiring) -> Scoped {
    let right = Scope { clock_permille: 1_000, room: 1, at_once: usize::MAX, ..Scope::default() };
    let scope = Rc::new(RefCell::new(Scope { others, wiring, ..right }));
    (scope.clone(), SerialLine::new(Port(scope.clone()), Port(scope)))
}

pub fn presence(from_us: u64, width_us: u64) -> Others {
    Others { presence_ns: Some((from_us * 1_000, (from_us + width_us) * 1_000)), ..Others::default() }
}
