//! The driver's serial master on a virtual line, through a UART in virtual time: sensors at both ends of the datasheet, the blind
//! spot of the first reset, and faults by their names.

use std::cell::{Cell, RefCell};
use std::collections::VecDeque;
use std::rc::Rc;

use embedded_hal::delay::DelayNs;
use embedded_io::{ErrorKind, ErrorType, Read, Write};
use slotwise::bus::SelectError;
use slotwise::bus::{Bus, RomCode, SearchError, SearchScope, Target};
use slotwise::line::{Line, LineError, NoStrongPullUp, Presence, SerialLine, SerialPort, StrongPullUp, SwitchError};
use slotwise::thermometer::{ConvertError, Supply, Thermometer, Wait, convert, supply};
use slotwise_virtual_line::{
    Cable, Fault, LineConfig, LineDelay, ModemLine, Part, PowerMode, SensorConfig, SensorTiming, TimingValues, Uart,
    VirtualLine,
};

/// A port on the virtual line, as one on a USB adapter.
struct Port {
    uart: Rc<RefCell<Uart>>,
    baud: u32,
    echoes: VecDeque<u8>,
    /// Times that something was read after something was written.
    round_trips: Rc<Cell<u32>>,
    written: bool,
}

impl ErrorType for Port {
    type Error = ErrorKind;
}

impl Read for Port {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, ErrorKind> {
        if std::mem::take(&mut self.written) {
            self.round_trips.set(self.round_trips.get() + 1);
        }
        let count = bytes.len().min(self.echoes.len());
        for (place, echo) in bytes.iter_mut().zip(self.echoes.drain(..count)) {
            *place = echo;
        }
        if count > 0 { Ok(count) } else { Err(ErrorKind::TimedOut) }
    }
}

impl Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        for byte in bytes {
            self.echoes.push_back(self.uart.borrow_mut().exchange(*byte, self.baud).unwrap().byte);
        }
        self.written = true;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        Ok(())
    }
}

impl SerialPort for Port {
    fn set_baud(&mut self, baud: u32) -> Result<(), ErrorKind> {
        self.baud = baud;
        Ok(())
    }

    fn discard_input(&mut self) -> Result<usize, ErrorKind> {
        Ok(std::mem::take(&mut self.echoes).len())
    }

    fn echo_room(&self) -> usize {
        512
    }
}

/// The time of the virtual line.
struct Delay(LineDelay);

impl DelayNs for Delay {
    fn delay_ns(&mut self, ns: u32) {
        self.0.delay_ns(ns);
    }
}

/// A modem line of the port that leads to the gate of the strong pull-up.
struct Rts(Rc<RefCell<Uart>>);

impl StrongPullUp for Rts {
    fn on(&mut self) -> Result<(), SwitchError> {
        self.0.borrow_mut().set_modem_line(ModemLine::Asserted);
        Ok(())
    }

    fn off(&mut self) -> Result<(), SwitchError> {
        self.0.borrow_mut().set_modem_line(ModemLine::Released);
        Ok(())
    }
}

/// The driver's line, its UART, and how many round trips it took.
type Wired<S> = (SerialLine<Port, Delay, S>, Rc<RefCell<Uart>>, Rc<Cell<u32>>);

fn wired(line: &VirtualLine) -> Wired<NoStrongPullUp> {
    let (uart, round_trips) = (Rc::new(RefCell::new(Uart::new(line))), Rc::default());
    let port = Port {
        uart: Rc::clone(&uart),
        baud: 0,
        echoes: VecDeque::new(),
        round_trips: Rc::clone(&round_trips),
        written: false,
    };
    (SerialLine::new(port, Delay(line.delay())), uart, round_trips)
}

fn serial(line: &VirtualLine) -> SerialLine<Port, Delay> {
    wired(line).0
}

fn line_with(timings: &[SensorTiming]) -> VirtualLine {
    let line = VirtualLine::new(LineConfig { ambient_millicelsius: 10_125, ..LineConfig::default() }, 1).unwrap();
    for (timing, serial) in timings.iter().zip(0x11_2233_4455..) {
        line.attach(SensorConfig { timing: *timing, ..SensorConfig::new(Part::Ds18b20, serial) }).unwrap();
    }
    line
}

#[test]
fn fast_typical_and_slow_sensors_are_found_and_measured_together() {
    let line = line_with(&[SensorTiming::fastest(), SensorTiming::typical(), SensorTiming::slowest()]);
    let mut bus = Bus::new(serial(&line));
    let roms: Vec<RomCode> = bus.search(SearchScope::All).collect::<Result<_, _>>().unwrap();
    assert_eq!(roms.len(), 3);
    for wait in [Wait::Poll, Wait::Time] {
        let converted = convert(&mut bus, Target::All, wait, 750_000).unwrap();
        for rom in &roms {
            let reading = Thermometer::new(*rom).unwrap().read(&mut bus, &converted.receipt).unwrap();
            // 10.125 degC is 00A2h (DS18B20 datasheet (7/19), Table 1).
            assert_eq!(reading.temperature.sixteenths(), 0x00A2, "{rom}");
        }
    }
}

#[test]
fn a_sensor_whose_presence_pulse_falls_between_two_looks_is_found() {
    for (delay_us, width_us) in [(53, 60), (55, 80), (60, 60), (60, 95)] {
        let timing = SensorTiming::new(TimingValues {
            presence_delay_ns: delay_us * 1_000,
            presence_width_ns: width_us * 1_000,
            ..SensorTiming::typical().values()
        });
        let line = line_with(&[timing.unwrap()]);
        assert_eq!(Uart::new(&line).exchange(0xF0, 9_600).unwrap().byte, 0xF0, "not seen by the first reset");
        assert_eq!(serial(&line).reset(), Ok(Presence::Present), "{width_us} us from {delay_us} us on");
        assert_eq!(Bus::new(serial(&line)).search(SearchScope::All).count(), 1);
    }
}

#[test]
fn an_empty_line_and_a_short_have_their_names() {
    let line = line_with(&[]);
    assert_eq!(Bus::new(serial(&line)).search(SearchScope::All).next(), Some(Err(SearchError::NoPresence)));
    line.inject(Fault::Short { ohm: 10 }).unwrap();
    assert_eq!(serial(&line).reset(), Err(LineError::StuckLow));
}

#[test]
fn a_line_that_rises_too_slowly_has_a_name_and_no_number() {
    // Rise to 70 % of the supply in 1.2 times pull-up and capacitance. A UART cannot tell a line that has risen before the end of
    // a slot from a sensor that pulls; one that has not, it can.
    for (ohm, length_mm, name) in [
        // 19 us.
        (15_000, 20_000, LineError::Disturbed),
        // 124 us.
        (100_000, 20_000, LineError::NeverIdleHigh),
    ] {
        let cable = Cable { length_mm, pf_per_m: 50 };
        let line = VirtualLine::new(LineConfig { pull_up_ohm: Some(ohm), cable, ..LineConfig::default() }, 1).unwrap();
        line.attach(SensorConfig::new(Part::Ds18b20, 0x11_2233_4455)).unwrap();
        let found = Bus::new(serial(&line)).search(SearchScope::All).next();
        assert_eq!(found, Some(Err(SearchError::Line(name))), "{ohm} ohm");
    }
}

#[test]
fn a_reading_takes_five_round_trips_and_one_for_each_look() {
    let line = line_with(&[SensorTiming::typical()]);
    let (serial, _, round_trips) = wired(&line);
    let mut bus = Bus::new(serial);
    let rom = bus.search(SearchScope::All).next().unwrap().unwrap();
    // A reset; the command and the first two bits; 63 directions with two bits each; the last direction.
    assert_eq!(round_trips.replace(0), 66);
    let thermometer = Thermometer::new(rom).unwrap();
    let converted = convert(&mut bus, Target::One(rom), Wait::Time, 750_000).unwrap();
    // Reset, command, and one look when the time is over.
    assert_eq!(round_trips.replace(0), 3);
    thermometer.read(&mut bus, &converted.receipt).unwrap();
    assert_eq!(round_trips.replace(0), 2);
    let settings = thermometer.settings(&mut bus).unwrap();
    thermometer.write(&mut bus, settings).unwrap();
    assert_eq!(round_trips.get(), 6, "read, written, and read again");
}

/// A line with one sensor on parasite power and one with a supply of its own.
fn parasite_line() -> (VirtualLine, RomCode) {
    let config = LineConfig { ambient_millicelsius: 25_062, strong_pull_up_ohm: Some(47), ..LineConfig::default() };
    let line = VirtualLine::new(config, 1).unwrap();
    let parasite = SensorConfig { power: PowerMode::Parasite, ..SensorConfig::new(Part::Ds18b20, 0x11_2233_4455) };
    let rom = RomCode::new(parasite.rom.bytes()).unwrap();
    line.attach(parasite).unwrap();
    line.attach(SensorConfig::new(Part::Ds18b20, 0x66_7788_99AA)).unwrap();
    (line, rom)
}

#[test]
fn a_gated_pull_up_powers_parasite_sensors_and_disturbs_no_transaction() {
    let (line, rom) = parasite_line();
    let (serial, uart, _) = wired(&line);
    let mut bus = Bus::new(serial.with_gated_pull_up(Rts(uart)).unwrap());
    let found: Vec<RomCode> = bus.search(SearchScope::All).collect::<Result<_, _>>().unwrap();
    assert_eq!(found.len(), 2);
    assert_eq!(supply(&mut bus, Target::All), Ok(Supply::Parasite));
    for target in [Target::All, Target::One(rom)] {
        let converted = convert(&mut bus, target, Wait::StrongPullUp, 750_000).unwrap();
        for rom in found.iter().filter(|found| target == Target::All || **found == rom) {
            let reading = Thermometer::new(*rom).unwrap().read(&mut bus, &converted.receipt).unwrap();
            // 25.0625 degC is 0191h (DS18B20 datasheet (7/19), Table 1).
            assert_eq!(reading.temperature.sixteenths(), 0x0191, "{rom}");
        }
    }
}

#[test]
fn without_it_they_are_refused_and_hear_no_convert() {
    let (line, rom) = parasite_line();
    let mut bus = Bus::new(serial(&line));
    let refused = LineError::StrongPullUp(SwitchError::Missing);
    assert_eq!(
        convert(&mut bus, Target::All, Wait::StrongPullUp, 750_000),
        Err(ConvertError::Select(SelectError::Line(refused)))
    );
    // The power-on value, +85 degC (DS18B20 datasheet (7/19), Table 1, note).
    assert_eq!(Thermometer::new(rom).unwrap().read_scratchpad(&mut bus).unwrap().raw(), 0x0550);
}

#[test]
fn power_that_comes_when_a_host_has_heard_the_echo_comes_too_late() {
    let (line, rom) = parasite_line();
    let (serial, uart, _) = wired(&line);
    let mut bus = Bus::new(serial);
    bus.select(Target::All).unwrap();
    bus.line().write_byte(0x44).unwrap();
    // What the fastest of USB adapters takes to bring the echo.
    bus.line().delay_us(1_000);
    let mut rts = Rts(uart);
    rts.on().unwrap();
    bus.line().delay_us(750_000);
    rts.off().unwrap();
    // The sensor has lost its supply in mid-conversion: the power-on value again.
    assert_eq!(Thermometer::new(rom).unwrap().read_scratchpad(&mut bus).unwrap().raw(), 0x0550);
}
