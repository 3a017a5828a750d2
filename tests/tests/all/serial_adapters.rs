//! The driver's ports on a virtual line: a UART of a chip by either set of traits, and a port of a system. Each finds and measures; each
//! names a low line although its receiver drops bytes with a low stop bit, and a port that fails.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::io;
use std::rc::Rc;
use std::time::Duration;

use embedded_hal::delay::DelayNs;
use embedded_hal_nb::serial::{self as nb_serial, ErrorKind as NbErrorKind};
use embedded_io::{ErrorType, Read, ReadReady, Write};
use slotwise::bus::{Bus, RomCode, SearchError, SearchScope, Target};
use slotwise::line::{
    Line, LineError, NoSuchRate, Presence, SerialError, SerialLine, SerialPort, SystemPort, SystemPortError,
    SystemSerial, UartError, UartHalfError, UartHalves, UartPort,
};
use slotwise::thermometer::{Thermometer, Wait, convert};
use slotwise_virtual_line::{
    Cable, Fault, LineConfig, LineDelay, Part, SensorConfig, SensorTiming, StopBit, TimingValues, Uart, VirtualLine,
};

/// What a receiver reports in place of a byte with a low stop bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Framing;

impl core::fmt::Display for Framing {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("low stop bit")
    }
}

impl core::error::Error for Framing {}

impl embedded_io::Error for Framing {
    /// As with many HALs: the kind says nothing.
    fn kind(&self) -> embedded_io::ErrorKind {
        embedded_io::ErrorKind::Other
    }
}

impl nb_serial::Error for Framing {
    fn kind(&self) -> NbErrorKind {
        NbErrorKind::FrameFormat
    }
}

/// A UART of a chip that drops bytes with a low stop bit.
struct ChipUart {
    uart: Uart,
    baud: u32,
    received: VecDeque<Result<u8, Framing>>,
    /// Whether RX is joined to the line.
    joined: bool,
    /// The `embedded-hal-nb` transmitter has no room for the next byte at first.
    had_no_room: bool,
    lacks: Vec<u32>,
}

impl ChipUart {
    fn on(line: &VirtualLine) -> Self {
        let uart = Uart::new(line);
        Self { uart, baud: 0, received: VecDeque::new(), joined: true, had_no_room: false, lacks: Vec::new() }
    }

    fn send(&mut self, byte: u8) {
        let received = self.uart.exchange(byte, self.baud).unwrap();
        if self.joined {
            self.received.push_back(if received.stop == StopBit::High { Ok(received.byte) } else { Err(Framing) });
        }
    }

    fn set_rate(&mut self, baud: u32) -> Result<(), NoSuchRate> {
        if self.lacks.contains(&baud) {
            return Err(NoSuchRate);
        }
        self.baud = baud;
        Ok(())
    }
}

impl ErrorType for ChipUart {
    type Error = Framing;
}

impl ReadReady for ChipUart {
    fn read_ready(&mut self) -> Result<bool, Framing> {
        Ok(!self.received.is_empty())
    }
}

impl Read for ChipUart {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, Framing> {
        bytes[0] = self.received.pop_front().expect("a read that would wait for ever")?;
        Ok(1)
    }
}

impl Write for ChipUart {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Framing> {
        self.send(bytes[0]);
        Ok(1)
    }

    fn flush(&mut self) -> Result<(), Framing> {
        Ok(())
    }
}

/// One half of it, with the other set of traits.
struct Half(Rc<RefCell<ChipUart>>);

impl nb_serial::ErrorType for Half {
    type Error = Framing;
}

impl nb_serial::Read for Half {
    fn read(&mut self) -> nb::Result<u8, Framing> {
        self.0.borrow_mut().received.pop_front().ok_or(nb::Error::WouldBlock)?.map_err(nb::Error::Other)
    }
}

impl nb_serial::Write for Half {
    fn write(&mut self, byte: u8) -> nb::Result<(), Framing> {
        let mut uart = self.0.borrow_mut();
        uart.had_no_room = !uart.had_no_room;
        if uart.had_no_room {
            return Err(nb::Error::WouldBlock);
        }
        uart.send(byte);
        Ok(())
    }

    fn flush(&mut self) -> nb::Result<(), Framing> {
        Ok(())
    }
}

/// A port of a system; its driver gives a byte with a low stop bit as 00h.
struct System {
    chip: ChipUart,
    real_rate: fn(u32) -> u32,
    hung_up: bool,
}

impl System {
    fn on(line: &VirtualLine) -> Self {
        Self { chip: ChipUart::on(line), real_rate: |baud| baud, hung_up: false }
    }
}

impl io::Read for System {
    fn read(&mut self, bytes: &mut [u8]) -> io::Result<usize> {
        if self.hung_up {
            return Ok(0);
        }
        let count = bytes.len().min(self.chip.received.len());
        for (place, byte) in bytes.iter_mut().zip(self.chip.received.drain(..count)) {
            *place = byte.unwrap_or(0);
        }
        if count == 0 { Err(io::ErrorKind::TimedOut.into()) } else { Ok(count) }
    }
}

impl io::Write for System {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        // A system takes what it has room for.
        let count = bytes.len().min(7);
        bytes.iter().take(count).for_each(|byte| self.chip.send(*byte));
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl SystemSerial for System {
    fn set_rate(&mut self, baud: u32) -> io::Result<u32> {
        self.chip.set_rate(baud).map_err(|_| io::Error::from(io::ErrorKind::InvalidInput))?;
        Ok((self.real_rate)(baud))
    }

    fn set_patience(&mut self, _: Duration) -> io::Result<()> {
        Ok(())
    }

    fn received(&mut self) -> io::Result<usize> {
        Ok(self.chip.received.len())
    }
}

/// The time of the virtual line.
struct Delay(LineDelay);

impl DelayNs for Delay {
    fn delay_ns(&mut self, ns: u32) {
        self.0.delay_ns(ns);
    }
}

fn delay(line: &VirtualLine) -> Delay {
    Delay(line.delay())
}

fn by_io(line: &VirtualLine, uart: ChipUart) -> impl Line<Error = SerialError<UartError<Framing>>> {
    let port = UartPort::new(uart, delay(line), |uart: &mut ChipUart, baud| uart.set_rate(baud));
    SerialLine::new(port.with_framing_errors(|_| true), delay(line))
}

type HalvesError = SerialError<UartError<UartHalfError<Framing, Framing>>>;

fn by_halves(line: &VirtualLine, uart: ChipUart) -> impl Line<Error = HalvesError> {
    let uart = Rc::new(RefCell::new(uart));
    let halves = UartHalves::new(Half(Rc::clone(&uart)), Half(uart));
    let port = UartPort::new(halves, delay(line), |halves: &mut UartHalves<Half, Half>, baud| {
        halves.tx.0.borrow_mut().set_rate(baud)
    });
    SerialLine::new(port, delay(line))
}

fn by_system(line: &VirtualLine, system: System) -> SerialLine<SystemPort<System>, Delay> {
    SerialLine::new(SystemPort::new(system), delay(line))
}

fn line_with(timings: &[SensorTiming]) -> VirtualLine {
    let line = VirtualLine::new(LineConfig { ambient_millicelsius: 10_125, ..LineConfig::default() }, 1).unwrap();
    for (timing, serial) in timings.iter().zip(0x11_2233_4455..) {
        line.attach(SensorConfig { timing: *timing, ..SensorConfig::new(Part::Ds18b20, serial) }).unwrap();
    }
    line
}

fn assert_finds_and_measures(line: impl Line) {
    let mut bus = Bus::new(line);
    let roms: Vec<RomCode> = bus.search(SearchScope::All).collect::<Result<_, _>>().unwrap();
    assert_eq!(roms.len(), 3);
    for rom in roms {
        let converted = convert(&mut bus, Target::One(rom), Wait::PollAndTime, 750_000).unwrap();
        let reading = Thermometer::new(rom).unwrap().read(&mut bus, &converted.receipt).unwrap();
        // 10.125 degC is 00A2h (DS18B20 datasheet (7/19), Table 1).
        assert_eq!(reading.temperature.sixteenths(), 0x00A2, "{rom}");
    }
}

#[test]
fn every_port_finds_and_measures() {
    let line = line_with(&[SensorTiming::fastest(), SensorTiming::typical(), SensorTiming::slowest()]);
    assert_finds_and_measures(by_io(&line, ChipUart::on(&line)));
    assert_finds_and_measures(by_halves(&line, ChipUart::on(&line)));
    assert_finds_and_measures(by_system(&line, System::on(&line)));
}

#[test]
fn a_short_has_its_name_although_bytes_with_a_low_stop_bit_are_dropped() {
    let line = line_with(&[SensorTiming::typical()]);
    line.inject(Fault::Short { ohm: 10 }).unwrap();
    assert_eq!(by_io(&line, ChipUart::on(&line)).reset(), Err(LineError::StuckLow));
    assert_eq!(by_halves(&line, ChipUart::on(&line)).reset(), Err(LineError::StuckLow));
    assert_eq!(by_system(&line, System::on(&line)).reset(), Err(LineError::StuckLow));
}

#[track_caller]
fn assert_slow<L: Line<Error: PartialEq>>(line: L) {
    let found = Bus::new(line).search(SearchScope::All).next();
    assert_eq!(found, Some(Err(SearchError::Line(LineError::NeverIdleHigh))));
}

#[test]
fn a_line_that_rises_too_slowly_has_its_name_although_bytes_with_a_low_stop_bit_are_dropped() {
    // Rise to 70 % of the supply in 1.2 times pull-up and capacitance, 124 us: longer than a slot.
    let cable = Cable { length_mm: 20_000, pf_per_m: 50 };
    let line = VirtualLine::new(LineConfig { pull_up_ohm: Some(100_000), cable, ..LineConfig::default() }, 1).unwrap();
    line.attach(SensorConfig::new(Part::Ds18b20, 0x11_2233_4455)).unwrap();
    assert_slow(by_io(&line, ChipUart::on(&line)));
    assert_slow(by_halves(&line, ChipUart::on(&line)));
}

#[test]
fn an_error_that_is_not_said_to_be_of_framing_goes_up_as_it_is() {
    let line = line_with(&[SensorTiming::typical()]);
    line.inject(Fault::Short { ohm: 10 }).unwrap();
    let port = UartPort::new(ChipUart::on(&line), delay(&line), |uart: &mut ChipUart, baud| uart.set_rate(baud));
    let outcome = SerialLine::new(port, delay(&line)).reset();
    assert_eq!(outcome, Err(LineError::Master(SerialError::Port(UartError::Uart(Framing)))));
}

#[test]
fn a_receiver_that_is_not_joined_to_the_line_gives_no_echo() {
    let line = line_with(&[SensorTiming::typical()]);
    let loose = || ChipUart { joined: false, ..ChipUart::on(&line) };
    assert_eq!(by_io(&line, loose()).reset(), Err(LineError::Master(SerialError::NoEcho)));
    assert_eq!(by_halves(&line, loose()).reset(), Err(LineError::Master(SerialError::NoEcho)));
    let system = System { chip: loose(), ..System::on(&line) };
    assert_eq!(by_system(&line, system).reset(), Err(LineError::Master(SerialError::NoEcho)));
}

#[test]
fn a_rate_that_is_missing_is_made_up_for_where_another_serves_and_named_where_none_does() {
    // Between two samples of the first reset; 7200 or 4800 baud find it.
    let hidden = SensorTiming::new(TimingValues {
        presence_delay_ns: 55_000,
        presence_width_ns: 80_000,
        ..SensorTiming::typical().values()
    });
    let line = line_with(&[hidden.unwrap()]);
    let lacking = |lacks: &[u32]| ChipUart { lacks: lacks.to_vec(), ..ChipUart::on(&line) };
    assert_eq!(by_io(&line, lacking(&[7_200])).reset(), Ok(Presence::Present));
    assert_eq!(by_halves(&line, lacking(&[7_200])).reset(), Ok(Presence::Present));
    let system = System { chip: lacking(&[7_200]), ..System::on(&line) };
    assert_eq!(by_system(&line, system).reset(), Ok(Presence::Present));
    let rate = SerialError::Port(UartError::Rate { baud: 9_600 });
    assert_eq!(by_io(&line, lacking(&[9_600])).reset(), Err(LineError::Master(rate)));
}

#[test]
fn a_rate_that_is_not_the_one_asked_for_is_refused() {
    let line = line_with(&[SensorTiming::typical()]);
    let system = System { real_rate: |_| 115_200, ..System::on(&line) };
    let why = "it is set to 115200".into();
    let expected = SerialError::Port(SystemPortError::Rate { baud: 9_600, why });
    assert_eq!(by_system(&line, system).reset(), Err(LineError::Master(expected)));
    let near = System { real_rate: |baud| baud + baud / 30, ..System::on(&line) };
    assert_eq!(by_system(&line, near).reset(), Ok(Presence::Present));
}

#[test]
fn a_port_of_a_system_that_hangs_up_is_gone() {
    let line = line_with(&[SensorTiming::typical()]);
    let system = System { hung_up: true, ..System::on(&line) };
    let outcome = by_system(&line, system).reset();
    assert!(matches!(&outcome, Err(LineError::Master(SerialError::Port(SystemPortError::Gone { .. })))), "{outcome:?}");
}

#[test]
fn what_was_received_before_is_thrown_away_and_counted_errors_included() {
    let line = line_with(&[]);
    let mut uart = ChipUart::on(&line);
    uart.received.extend([Ok(0x12), Err(Framing), Ok(0x34)]);
    let mut port = UartPort::new(uart, delay(&line), |uart: &mut ChipUart, baud| uart.set_rate(baud));
    assert_eq!(port.discard_input(), Ok(3));
    assert_eq!(port.discard_input(), Ok(0));
}
