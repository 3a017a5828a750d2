//! The driver's serial master on a virtual line, through a UART in virtual time: sensors at both ends of the datasheet, the blind
//! spot of the first reset, and faults by their names.
#![allow(clippy::unwrap_used)] // helpers of tests

use embedded_hal::delay::DelayNs;
use embedded_io::{ErrorKind, ErrorType, Read, Write};
use slotwise::bus::{Bus, RomCode, SearchError, SearchScope, Target};
use slotwise::line::{Line, LineError, Presence, SerialLine, SerialPort};
use slotwise::thermometer::{Thermometer, Wait, convert};
use slotwise_virtual_line::{
    Cable, Fault, LineConfig, LineDelay, Part, SensorConfig, SensorTiming, TimingValues, Uart, VirtualLine,
};

/// A port on the virtual line.
struct Port {
    uart: Uart,
    baud: u32,
    echo: Option<u8>,
}

impl ErrorType for Port {
    type Error = ErrorKind;
}

impl Read for Port {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, ErrorKind> {
        bytes[0] = self.echo.take().ok_or(ErrorKind::TimedOut)?;
        Ok(1)
    }
}

impl Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        self.echo = Some(self.uart.exchange(bytes[0], self.baud).unwrap().byte);
        Ok(1)
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

    fn discard_input(&mut self) -> Result<(), ErrorKind> {
        self.echo = None;
        Ok(())
    }
}

/// The time of the virtual line.
struct Delay(LineDelay);

impl DelayNs for Delay {
    fn delay_ns(&mut self, ns: u32) {
        self.0.delay_ns(ns);
    }
}

fn serial(line: &VirtualLine) -> SerialLine<Port, Delay> {
    SerialLine::new(Port { uart: Uart::new(line), baud: 0, echo: None }, Delay(line.delay()))
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
            let reading = Thermometer::new(*rom).unwrap().read(&mut bus, converted.evidence).unwrap();
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
    assert_eq!(Bus::new(serial(&line)).search(SearchScope::All).next(), Some(Err(SearchError::Nobody)));
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
