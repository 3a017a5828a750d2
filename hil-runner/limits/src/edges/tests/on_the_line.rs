//! The real driver on the virtual line, judged by the waveform of its pin and by its own calls.

use std::cell::RefCell;
use std::convert::Infallible;
use std::rc::Rc;

use Parameter as P;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use slotwise::bus::{Bus, RomCode, Target};
use slotwise::line::{InterruptMask, Overhead, PinLine, PullUpSwitch, SwitchLevel, Timing};
use slotwise::thermometer::{Thermometer, Wait, convert};
use slotwise_virtual_line::{
    Cpu, InterruptLoad, LineConfig, Part, PowerMode, Recording, SensorConfig, Signal, State, VirtualLine, Waveform,
};

use super::*;

type Events = Vec<(u64, Edge)>;

/// A pin that notes what is done to it.
struct Noted<T> {
    pin: T,
    line: VirtualLine,
    events: Rc<RefCell<Events>>,
    /// What it means when it is set low and high.
    low_high: [Edge; 2],
}

impl<T> Noted<T> {
    fn note(&self, edge: Edge) {
        self.events.borrow_mut().push((self.line.now_ns(), edge));
    }
}

impl<T: ErrorType<Error = Infallible>> ErrorType for Noted<T> {
    type Error = Infallible;
}

impl<T: OutputPin<Error = Infallible>> OutputPin for Noted<T> {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.pin.set_low()?;
        self.note(self.low_high[0]);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.pin.set_high()?;
        self.note(self.low_high[1]);
        Ok(())
    }
}

impl<T: InputPin<Error = Infallible>> InputPin for Noted<T> {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        let level = self.pin.is_high();
        self.note(Edge::Look);
        level
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

/// Masks the virtual interrupts, or does not.
enum Mask {
    Working(slotwise_virtual_line::InterruptMask),
    Missing,
}

impl InterruptMask for Mask {
    fn masked<R>(&mut self, slot: impl FnOnce() -> R) -> R {
        let Self::Working(mask) = self else { return slot() };
        mask.mask();
        let result = slot();
        mask.unmask();
        result
    }
}

/// What the driver did, as seen by itself and as recorded by the line.
struct Seen {
    calls: Events,
    waveform: Waveform,
}

/// A conversion under the strong pull-up and a reading of the one sensor, by Match ROM.
fn measured(timing: Timing, load: Option<InterruptLoad>, masked: bool) -> Seen {
    let cpu = Cpu::at_mhz(72);
    let config = LineConfig { strong_pull_up_ohm: Some(10), cpu, ..LineConfig::default() };
    let line = VirtualLine::new(config, 3).unwrap();
    let sensor = SensorConfig { power: PowerMode::Parasite, ..SensorConfig::new(Part::Ds18b20, 0x0102_0304) };
    let rom = RomCode::new(sensor.rom.bytes()).unwrap();
    line.attach(sensor).unwrap();
    line.record(Recording::default());
    let events = Rc::new(RefCell::new(Events::new()));
    let noted = |low_high| (line.clone(), Rc::clone(&events), low_high);
    let (of, notes, low_high) = noted([Edge::DriveLow, Edge::Release]);
    let pin = Noted { pin: line.pin(), line: of, events: notes, low_high };
    let (of, notes, low_high) = noted([Edge::StrongOff, Edge::StrongOn]);
    let switch = Noted { pin: line.strong_pull_up_pin().unwrap(), line: of, events: notes, low_high };
    let mask = if masked { Mask::Working(line.interrupt_mask()) } else { Mask::Missing };
    let master = PinLine::new(pin, line.delay(), timing)
        .unwrap()
        .with_mask(mask)
        .with_overhead(Overhead {
            pin_write_ns: cpu.pin_write_ns,
            pin_read_ns: cpu.pin_read_ns,
            delay_ns: cpu.delay_overhead_ns + cpu.delay_step_ns / 2,
        })
        .unwrap()
        .with_strong_pull_up(PullUpSwitch::new(switch, SwitchLevel::High).unwrap())
        .unwrap();
    line.set_interrupt_load(load).unwrap();
    let mut bus = Bus::new(master);
    let converted = convert(&mut bus, Target::One(rom), Wait::StrongPullUp, 750_000);
    // Under interrupts that are not masked there may be none of either.
    let reading =
        converted.ok().and_then(|converted| Thermometer::new(rom).unwrap().read(&mut bus, &converted.receipt).ok());
    assert!(reading.is_some() || !masked, "the desk is in order");
    line.set_interrupt_load(None).unwrap();
    let waveform = line.stop_recording().unwrap();
    Seen { calls: events.take(), waveform }
}

/// The traces of pin and switch of a waveform.
fn edges_of(waveform: &Waveform) -> Events {
    waveform
        .transitions()
        .filter_map(|transition| {
            let edge = match (transition.signal, transition.to) {
                (Signal::Master, State::Low) => Edge::DriveLow,
                (Signal::Master, _) => Edge::Release,
                (Signal::StrongPullUp, State::High) => Edge::StrongOn,
                (Signal::StrongPullUp, _) => Edge::StrongOff,
                (Signal::Line | Signal::Sensor(_) | Signal::Joined(_), _) => return None,
            };
            Some((transition.at_ns, edge))
        })
        .collect()
}

#[test]
fn every_edge_of_a_transaction_is_classified() {
    let report = judged(edges_of(&measured(Timing::SHORT_LINE, None, true).waveform));
    // Twice a reset, Match ROM 55h with the ROM code 28 04 03 02 01 00 00 and its CRC, then Convert T 44h, or Read Scratchpad
    // BEh and nine bytes. Ones: 55h 4; 28h 2, 04h 1, 03h 2, 02h 1, 01h 1; the CRC; 44h 2, BEh 6.
    let crc = *slotwise_virtual_line::RomCode::new(Part::Ds18b20, 0x0102_0304).bytes().last().unwrap();
    let address = 4 + 2 + 1 + 2 + 1 + 1 + u64::from(crc.count_ones());
    let ones = 2 * address + 2 + 6 + 72;
    let zeros = 2 * (72 - address) + 6 + 2;
    assert_eq!(report.pulses, Pulses { resets: 2, zeros, ones });
    assert_eq!(report.violated, 0, "{:?}", report.violations);
    assert_eq!(report.seen(P::PowerOn).count, 1);
    assert_eq!(report.seen(P::PowerOff).count, 1);
    assert_eq!(report.seen(P::Slot).count, zeros + ones - 1);
    // A waveform does not show when the line was sampled; the report says so.
    assert_eq!(report.looks, Looks::default());
    assert_eq!(
        report.unclear,
        Unclear { slots_not_looked_at: ones - 1, resets_not_looked_at: 2, unfinished: 1, ..Unclear::default() }
    );
}

#[test]
fn the_waveform_and_the_calls_tell_the_same_of_the_edges() {
    let Seen { calls, waveform } = measured(Timing::LONG_LINE, None, true);
    let (by_calls, by_waveform) = (judged(calls), judged(edges_of(&waveform)));
    assert_eq!(by_calls.pulses, by_waveform.pulses);
    for parameter in Parameter::ALL {
        if let Some(seen) = by_waveform.of(parameter).seen {
            assert_eq!(by_calls.seen(parameter), seen, "{parameter:?}");
        }
    }
}

#[test]
fn the_driver_keeps_every_limit_with_either_timing_set() {
    for (timing, families) in [
        (Timing::SHORT_LINE, &[Family::Ds18b20, Family::Ds18s20][..]),
        (Timing::LONG_LINE, &[Family::Ds18b20, Family::Ds28ea00]),
    ] {
        let report = judged_for(families, measured(timing, None, true).calls);
        assert_eq!(report.violated, 0, "{:?}", report.violations);
        for parameter in Parameter::ALL {
            let count = report.seen(parameter).count;
            assert!(count > 0, "{parameter:?}");
        }
        // Each short slot is looked at once, each reset is looked at.
        assert_eq!(report.looks.samples, report.pulses.ones);
        assert_eq!(report.looks.rise_checks, report.pulses.resets);
        // Opened by the driver when it is made, let go by it: the first of either kind.
        assert_eq!(report.unclear, Unclear { without_beginning: 2, repeated: 1, ..Unclear::default() });
        let slot = report.seen(P::Slot).least_ns;
        // Costs of calls are known to the driver to within half a turn of its delay loop.
        assert!(slot.abs_diff(i64::from(timing.slot_ns)) < 1_000, "{slot} ns where {} were asked", timing.slot_ns);
    }
}

#[test]
fn the_short_line_timing_does_not_keep_the_limits_of_the_ds28ea00() {
    let report = judged_for(&[Family::Ds28ea00], measured(Timing::SHORT_LINE, None, true).calls);
    assert!(report.of(P::Slot).violated > 0 && report.of(P::Recovery).violated > 0);
    assert_eq!(report.violated, report.of(P::Slot).violated + report.of(P::Recovery).violated);
}

#[test]
fn interrupts_that_are_not_masked_are_found_in_the_slots() {
    let load = Some(InterruptLoad { per_second: 2_000, lost_ns: 20_000 });
    let masked = judged(measured(Timing::SHORT_LINE, load, true).calls);
    assert_eq!(masked.violated, 0, "{:?}", masked.violations);
    let unmasked = judged(measured(Timing::SHORT_LINE, load, false).calls);
    assert!(unmasked.of(P::ReadSample).violated > 0);
    assert!(unmasked.nearest(P::ReadSample).margin_ns < -5_000);
}
