//! The serial port seen by an oscilloscope: every low time and every look against the datasheet's limits, every legal presence
//! pulse seen, and each fault between port and line by its name.
#![allow(clippy::unwrap_used)] // helpers of tests

use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;

use embedded_hal::delay::DelayNs;
use embedded_io::{ErrorKind, ErrorType, Read, Write};
use slotwise::line::{Line, LineError, Presence, SerialError, SerialLine, SerialPort, SwitchError};

/// What others do to the line.
#[derive(Clone, Copy, Default)]
struct Others {
    /// A presence pulse after each reset pulse: from, to, in nanoseconds after the release.
    presence_ns: Option<(u64, u64)>,
    /// Low in each slot from the falling edge on, for so long.
    slot_low_ns: u64,
    /// Low once more in each slot: from, to, in nanoseconds after the falling edge.
    slot_again_ns: Option<(u64, u64)>,
    /// Low all the time.
    held_low: bool,
}

/// What is wrong with the wiring or the port.
#[derive(Clone, Copy, Default, PartialEq)]
enum Wiring {
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
}

/// One byte on the line, as the oscilloscope has it.
#[derive(Clone, Copy, Debug)]
struct Pulse {
    baud: u32,
    /// How long the line was driven low from the falling edge on.
    low_ns: u64,
    /// When the receiver first looked at the released line, after the falling edge.
    first_look_ns: u64,
}

#[derive(Default)]
struct Scope {
    baud: u32,
    others: Others,
    wiring: Wiring,
    /// Clock of the port, in thousandths of the right one.
    clock_permille: u64,
    pulses: Vec<Pulse>,
    input: VecDeque<u8>,
    delayed_ns: u64,
    discarded: usize,
}

impl Scope {
    fn send(&mut self, byte: u8) {
        let half_bit_ns = 500_000_000 * 1_000 / u64::from(self.baud) / self.clock_permille;
        let zeros = u64::from(byte.trailing_zeros());
        let low_ns = 2 * half_bit_ns * (1 + zeros);
        self.pulses.push(Pulse { baud: self.baud, low_ns, first_look_ns: half_bit_ns * (2 * zeros + 3) });
        if self.wiring == Wiring::NoReceiver || (self.wiring == Wiring::NeedsEdge && self.others.held_low) {
            return;
        }
        let is_reset = low_ns >= 400_000;
        let driven = self.wiring != Wiring::NoTransmitter;
        let level = |at_ns: u64| {
            let Others { presence_ns, slot_low_ns, slot_again_ns, held_low } = self.others;
            let inside = |span: Option<(u64, u64)>, at_ns| span.is_some_and(|(from, to)| (from..to).contains(&at_ns));
            // Bits after the zeros are ones in every byte that makes sense here.
            let master = driven && at_ns < low_ns;
            let sensors = if is_reset {
                at_ns >= low_ns && inside(presence_ns, at_ns - low_ns)
            } else {
                at_ns < slot_low_ns || inside(slot_again_ns, at_ns)
            };
            !(held_low || master || sensors)
        };
        let echo = (0..8).map(|bit| u8::from(level(half_bit_ns * (2 * bit + 3))) << bit).sum();
        self.input.push_back(echo);
    }
}

#[derive(Clone)]
struct Port(Rc<RefCell<Scope>>);

impl ErrorType for Port {
    type Error = ErrorKind;
}

impl Read for Port {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, ErrorKind> {
        let mut scope = self.0.borrow_mut();
        let echo = scope.input.pop_front().ok_or(ErrorKind::TimedOut)?;
        bytes[0] = echo;
        Ok(1)
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
        for byte in bytes {
            scope.send(*byte);
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        Ok(())
    }
}

impl SerialPort for Port {
    fn set_baud(&mut self, baud: u32) -> Result<(), ErrorKind> {
        self.0.borrow_mut().baud = baud;
        Ok(())
    }

    fn discard_input(&mut self) -> Result<(), ErrorKind> {
        let mut scope = self.0.borrow_mut();
        scope.discarded += scope.input.len();
        scope.input.clear();
        Ok(())
    }
}

impl DelayNs for Port {
    fn delay_ns(&mut self, ns: u32) {
        self.0.borrow_mut().delayed_ns += u64::from(ns);
    }
}

type Scoped = (Rc<RefCell<Scope>>, SerialLine<Port, Port>);

fn line(others: Others) -> Scoped {
    wired(others, Wiring::Right)
}

fn wired(others: Others, wiring: Wiring) -> Scoped {
    let scope = Rc::new(RefCell::new(Scope { others, wiring, clock_permille: 1_000, ..Scope::default() }));
    (scope.clone(), SerialLine::new(Port(scope.clone()), Port(scope)))
}

fn presence(from_us: u64, width_us: u64) -> Others {
    Others { presence_ns: Some((from_us * 1_000, (from_us + width_us) * 1_000)), ..Others::default() }
}

#[test]
fn low_times_and_looks_are_inside_the_datasheet_windows_with_clocks_off_by_4_percent() {
    for clock_permille in [960, 1_000, 1_040] {
        let (scope, mut line) = line(Others::default());
        scope.borrow_mut().clock_permille = clock_permille;
        assert_eq!(line.reset(), Ok(Presence::Nobody));
        assert_eq!(line.slot(true), Ok(true));
        assert_eq!(line.slot(false), Ok(false));
        let scope = scope.borrow();
        let [first, second, one, zero] = scope.pulses[..] else { panic!("{:?}", scope.pulses) };
        // DS18B20 datasheet (7/19), AC table: tRSTL 480..960 us (parasite power), tLOW1 1..15 us, tRDV 15 us, tLOW0 60..120 us.
        for reset in [first, second] {
            assert!((480_000..=960_000).contains(&reset.low_ns), "{reset:?}");
        }
        assert!((1_000..15_000).contains(&one.low_ns), "{one:?}");
        assert!((11_000..15_000).contains(&one.first_look_ns), "as late as possible before tRDV: {one:?}");
        assert!((60_000..=120_000).contains(&zero.low_ns), "{zero:?}");
        // Every legal presence pulse lasts from 60 to 75 us after the release: tPDHIGH 15..60 us, tPDLOW 60..240 us.
        let look_ns = second.first_look_ns - second.low_ns;
        assert!((60_000..75_000).contains(&look_ns), "{look_ns}");
    }
}

#[test]
fn every_legal_presence_pulse_is_seen() {
    // tPDHIGH 15..60 us, tPDLOW 60..240 us. Some of them fall between two looks of the first reset.
    let mut missed_by_first = 0;
    for delay_us in 15..=60 {
        for width_us in 60..=240 {
            let (scope, mut line) = line(presence(delay_us, width_us));
            assert_eq!(line.reset(), Ok(Presence::Present), "{width_us} us from {delay_us} us on");
            missed_by_first += scope.borrow().pulses.len() - 1;
        }
    }
    assert!(missed_by_first > 0, "the blind spot of the first reset was among them");
}

#[test]
fn a_presence_pulse_that_is_seen_at_once_costs_one_reset() {
    let (scope, mut line) = line(presence(28, 115));
    assert_eq!(line.reset(), Ok(Presence::Present));
    let scope = scope.borrow();
    assert_eq!(scope.pulses.iter().map(|pulse| pulse.baud).collect::<Vec<_>>(), [9_600]);
}

#[test]
fn slots_after_a_reset_are_back_at_their_own_rate() {
    let (scope, mut line) = line(presence(28, 115));
    line.write_byte(0b0000_0101).unwrap();
    line.reset().unwrap();
    line.slot(true).unwrap();
    let rates: Vec<u32> = scope.borrow().pulses.iter().map(|pulse| pulse.baud).collect();
    assert_eq!(rates[..8], [115_200; 8]);
    assert_eq!(rates[8..], [9_600, 115_200]);
}

#[test]
fn a_byte_goes_out_low_bit_first() {
    let (scope, mut line) = line(Others::default());
    line.write_byte(0xA5).unwrap();
    let ones: Vec<bool> = scope.borrow().pulses.iter().map(|pulse| pulse.low_ns < 15_000).collect();
    assert_eq!(ones, [true, false, true, false, false, true, false, true]);
}

#[test]
fn a_sensor_that_lets_go_in_its_window_reads_0() {
    // A read 0 is held until 15 to 60 us after the falling edge; somewhat longer is forgiven.
    for until_us in 15..=70 {
        let (_, mut line) = line(Others { slot_low_ns: until_us * 1_000, ..Others::default() });
        assert_eq!(line.slot(true), Ok(false), "until {until_us} us");
    }
    let (_, mut line) = line(Others::default());
    assert_eq!(line.slot(true), Ok(true));
}

#[test]
fn a_written_one_that_is_not_seen_is_a_disturbance() {
    let (_, mut line) = line(Others { slot_low_ns: 30_000, ..Others::default() });
    assert_eq!(line.write_bit(true), Err(LineError::Disturbed));
    assert_eq!(line.write_bit(false), Ok(()));
}

#[test]
fn a_line_that_falls_again_inside_a_slot_is_disturbed() {
    for slot_low_ns in [0, 20_000] {
        let (_, mut line) = line(Others { slot_low_ns, slot_again_ns: Some((36_000, 42_000)), ..Others::default() });
        assert_eq!(line.slot(true), Err(LineError::Disturbed));
    }
}

#[test]
fn a_held_line_is_stuck_low() {
    let (scope, mut line) = line(Others { held_low: true, ..Others::default() });
    assert_eq!(line.reset(), Err(LineError::StuckLow));
    assert_eq!(line.slot(true), Err(LineError::StuckLow));
    assert_eq!(scope.borrow().pulses.len(), 4, "one look more for each");
}

#[test]
fn a_line_that_has_not_risen_by_the_end_of_a_byte_but_rises_is_never_idle_high() {
    let (scope, mut line) = line(Others { slot_low_ns: 110_000, ..Others::default() });
    assert_eq!(line.slot(true), Err(LineError::NeverIdleHigh));
    // The look itself is a legal write-0 to sensors, tLOW0 60..120 us.
    assert!((60_000..=120_000).contains(&scope.borrow().pulses[1].low_ns));
    let (_, mut line) = self::line(presence(0, 420));
    assert_eq!(line.reset(), Err(LineError::NeverIdleHigh));
}

#[test]
fn a_held_line_under_a_receiver_that_waits_for_an_edge_gives_no_echo() {
    let (_, mut line) = wired(Others { held_low: true, ..Others::default() }, Wiring::NeedsEdge);
    assert_eq!(line.reset(), Err(LineError::Master(SerialError::NoEcho)));
}

#[test]
fn a_pulse_that_outlasts_every_sensor_is_a_disturbance() {
    let (_, mut line) = line(presence(340, 60));
    assert_eq!(line.reset(), Err(LineError::Disturbed));
}

#[test]
fn a_receiver_that_is_not_joined_gives_no_echo() {
    let (_, mut line) = wired(Others::default(), Wiring::NoReceiver);
    assert_eq!(line.reset(), Err(LineError::Master(SerialError::NoEcho)));
    assert_eq!(line.slot(false), Err(LineError::Master(SerialError::NoEcho)));
}

#[test]
fn a_transmitter_that_does_not_pull_the_line_gives_a_wrong_echo() {
    let (_, mut line) = wired(Others::default(), Wiring::NoTransmitter);
    assert_eq!(line.reset(), Err(LineError::Master(SerialError::WrongEcho { sent: 0xF0, echo: 0xFF })));
    assert_eq!(line.slot(false), Err(LineError::Master(SerialError::WrongEcho { sent: 0x00, echo: 0xFF })));
}

#[test]
fn the_errors_of_a_port_come_through() {
    let (_, mut line) = wired(Others::default(), Wiring::Broken);
    assert_eq!(line.reset(), Err(LineError::Master(SerialError::Port(ErrorKind::BrokenPipe))));
    let (_, mut line) = wired(Others::default(), Wiring::Ended);
    assert_eq!(line.slot(true), Err(LineError::Master(SerialError::Closed)));
}

#[test]
fn what_came_between_two_slots_is_not_taken_for_an_echo() {
    let (scope, mut line) = line(Others { slot_low_ns: 30_000, ..Others::default() });
    line.slot(true).unwrap();
    scope.borrow_mut().input.extend([0xFF, 0xFF]);
    assert_eq!(line.slot(true), Ok(false), "the echo of this slot, not of the noise before it");
    assert_eq!(scope.borrow().discarded, 2);
}

#[test]
fn parasite_power_is_refused_before_anything_is_sent() {
    let (scope, mut line) = line(Others::default());
    assert_eq!(line.write_byte_and_power(0x44), Err(LineError::StrongPullUp(SwitchError::Missing)));
    assert!(scope.borrow().pulses.is_empty());
}

#[test]
fn delays_are_those_of_the_delay() {
    let (scope, mut line) = line(Others::default());
    line.delay_us(750);
    assert_eq!(scope.borrow().delayed_ns, 750_000);
}
