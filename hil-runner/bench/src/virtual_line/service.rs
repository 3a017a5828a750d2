//! The bridge's own service on a virtual line, in this process: bytes go in and come out as on any other rig.

use std::rc::Rc;
use std::time::Duration;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::InputPin;
use slotwise::line::{
    InterruptMask, NoStrongPullUp, Overhead, PinLine, PullUpSwitch, StrongPullUp, SwitchError, SwitchLevel, Timing,
};
use slotwise_bridge::message::{self, LineReport, Master, MasterFault, ResetCause};
use slotwise_bridge::watch::{Clock, LineSample, Meter, Watch, WatchedDelay, WatchedPin};
use slotwise_bridge::{Endpoint, Identity, NoSwitches, Service, TimingChoice};
use slotwise_virtual_line::{Cpu, DataPin, VirtualLine};

use super::LineProblem;
use crate::link::{Carrier, CarrierError};

/// The interrupt mask of the virtual master.
#[derive(Debug)]
struct Mask(slotwise_virtual_line::InterruptMask);

impl InterruptMask for Mask {
    fn masked<R>(&mut self, slot: impl FnOnce() -> R) -> R {
        self.0.mask();
        let result = slot();
        self.0.unmask();
        result
    }
}

/// The virtual time, a tick a nanosecond.
struct VirtualClock(VirtualLine);

impl Clock for VirtualClock {
    fn hz(&self) -> u32 {
        1_000_000_000
    }

    fn ticks(&self) -> u32 {
        // The lower half: the counter goes round.
        self.0.now_ns() as u32
    }

    fn own_sample(&self, high: bool) -> LineSample {
        let level = self.0.input_level();
        let at = if level.high == high { level.since_ns } else { self.0.now_ns() };
        LineSample { at: at as u32, grain: 0, high }
    }

    fn wait<P: InputPin>(&self, since: u32, ticks: u32, watched: Option<&mut P>, mut seen: impl FnMut(LineSample)) {
        let passed = self.ticks().wrapping_sub(since);
        self.0.delay().delay_ns(ticks.saturating_sub(passed));
        if watched.is_some() {
            let level = self.0.input_level();
            // The line knows to the nanosecond when it changed; no polling is needed.
            seen(LineSample { at: level.since_ns as u32, grain: 0, high: level.high });
        }
    }
}

type VirtualWatch = Rc<Watch<DataPin, VirtualClock>>;
type WatchedLine<S> = PinLine<WatchedPin<VirtualWatch>, WatchedDelay<VirtualWatch>, Mask, S>;

struct SharedMeter(VirtualWatch);

impl Meter for SharedMeter {
    fn now_us(&self) -> u64 {
        self.0.now_us()
    }

    fn begin(&self) {
        self.0.begin();
    }

    fn finish(&self) -> LineReport {
        self.0.finish()
    }
}

/// The service, and what it has answered.
struct InProcess<L> {
    endpoint: Endpoint<L, SharedMeter, NoSwitches>,
    line: VirtualLine,
    outbox: Vec<u8>,
}

impl<L: slotwise::line::Line<Error = MasterFault> + TimingChoice> Carrier for InProcess<L> {
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError> {
        for byte in bytes {
            if let Some(frame) = self.endpoint.take(*byte) {
                self.outbox.extend_from_slice(frame);
            }
        }
        Ok(())
    }

    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError> {
        if self.outbox.is_empty() {
            // The bridge sends nothing without a request, so the whole patience is waited out.
            self.line.advance_ns(patience.as_nanos().try_into().unwrap_or(u64::MAX));
        }
        bytes.append(&mut self.outbox);
        Ok(())
    }

    fn now(&self) -> Duration {
        Duration::from_nanos(self.line.now_ns())
    }

    fn wants_life(&self) -> bool {
        false
    }
}

/// The service on `line`.
pub fn in_process(line: &VirtualLine, clock_mhz: u32) -> Result<Box<dyn Carrier>, LineProblem> {
    match line.strong_pull_up_pin() {
        Some(pin) => {
            let switch = PullUpSwitch::new(pin, SwitchLevel::High).map_err(|error: SwitchError| pins(&error))?;
            on_pins(line, clock_mhz, switch)
        }
        None => on_pins(line, clock_mhz, NoStrongPullUp),
    }
}

fn on_pins<S: StrongPullUp + 'static>(
    line: &VirtualLine,
    clock_mhz: u32,
    pull_up: S,
) -> Result<Box<dyn Carrier>, LineProblem> {
    let watch = Rc::new(Watch::new(line.pin(), VirtualClock(line.clone())));
    let Cpu { pin_write_ns, pin_read_ns, delay_overhead_ns, .. } = line.cpu();
    let overhead = Overhead { pin_write_ns, pin_read_ns, delay_ns: delay_overhead_ns };
    let pin_line: WatchedLine<S> =
        PinLine::new(WatchedPin(Rc::clone(&watch)), WatchedDelay(Rc::clone(&watch)), Timing::SHORT_LINE)
            .map_err(|error| pins(&error))?
            .with_mask(Mask(line.interrupt_mask()))
            .with_strong_pull_up(pull_up)
            .map_err(|error| pins(&error))?
            .with_overhead(overhead)
            .map_err(|error| pins(&error))?;
    let identity = Identity {
        // Driver, bridge and runner are packages of one workspace with one version.
        version: env!("CARGO_PKG_VERSION"),
        driver: env!("CARGO_PKG_VERSION"),
        chip: "in process",
        master: Master::Pin,
        carrier: message::Carrier::InProcess,
        core_hz: clock_mhz.saturating_mul(1_000_000),
        tick_hz: 1_000_000_000,
        strong_pull_up: S::FITTED,
        reset: ResetCause::Unknown,
    };
    let endpoint = Endpoint::new(Service::new(identity, pin_line, SharedMeter(watch), NoSwitches));
    Ok(Box::new(InProcess { endpoint, line: line.clone(), outbox: Vec::new() }))
}

fn pins(error: &dyn std::fmt::Display) -> LineProblem {
    LineProblem::Pins(error.to_string())
}
