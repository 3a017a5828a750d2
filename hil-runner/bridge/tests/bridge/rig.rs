//! A virtual line with the bridge's service on it, and the clock that times it.

use std::fmt::Debug;

use embedded_hal::digital::InputPin;
use slotwise::bus::RomCode;
use slotwise::line::{NoStrongPullUp, Overhead, PinLine, PullUpSwitch, StrongPullUp, SwitchLevel, Timing, Unmasked};
use slotwise_bridge::message::{Answer, Carrier, LineReport, Master, Reply, Request, ResetCause};
use slotwise_bridge::watch::{Clock, LineSample, Watch, WatchedDelay, WatchedPin, poll};
use slotwise_bridge::{Identity, Interlock, PinSwitch, RigSwitches, Service};
use slotwise_virtual_line::{DataPin, LineConfig, Part, SensorConfig, SensorId, SupplySwitchPin, VirtualLine};

/// The time of a virtual line at some rate. It either knows when the level changed, or samples as a chip does.
#[derive(Debug)]
pub struct LineClock {
    line: VirtualLine,
    hz: u32,
    sampling: Sampling,
}

/// How a clock learns of changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sampling {
    /// The line reports each change.
    Exact,
    /// By polling; reading the counter costs this much.
    Polled { clock_ns: u64 },
}

impl LineClock {
    /// The time of `line`, at `hz`.
    pub fn new(line: &VirtualLine, hz: u32, sampling: Sampling) -> Self {
        Self { line: line.clone(), hz, sampling }
    }

    fn ticks_at(&self, ns: u64) -> u64 {
        (u128::from(ns) * u128::from(self.hz) / 1_000_000_000) as u64
    }
}

impl Clock for LineClock {
    fn hz(&self) -> u32 {
        self.hz
    }

    fn ticks(&self) -> u32 {
        if let Sampling::Polled { clock_ns } = self.sampling {
            self.line.advance_ns(clock_ns);
        }
        self.ticks_at(self.line.now_ns()) as u32
    }

    fn wait<P: InputPin>(&self, since: u32, ticks: u32, watched: Option<&mut P>, mut seen: impl FnMut(LineSample)) {
        if matches!(self.sampling, Sampling::Polled { .. }) {
            return poll(self, since, ticks, watched, seen);
        }
        let passed = (self.ticks_at(self.line.now_ns()) as u32).wrapping_sub(since);
        let left = u64::from(ticks.saturating_sub(passed));
        let until_ns = self.line.now_ns() + (left * 1_000_000_000).div_ceil(u64::from(self.hz));
        while self.line.now_ns() < until_ns {
            let next_ns = self.line.next_event_ns().unwrap_or(until_ns).clamp(self.line.now_ns() + 1, until_ns);
            self.line.advance_ns(next_ns - self.line.now_ns());
            let level = self.line.input_level();
            seen(LineSample { at: self.ticks_at(level.since_ns) as u32, grain: 0, high: level.high });
        }
    }
}

pub type LineWatch = Watch<DataPin, LineClock>;
type RigLine<S> = PinLine<WatchedPin<&'static LineWatch>, WatchedDelay<&'static LineWatch>, Unmasked, S>;
pub type Switches = RigSwitches<'static, SupplySwitchPin, SupplySwitchPin>;
pub type VirtualService<S> = Service<RigLine<S>, &'static LineWatch, Switches>;

/// A line, the sensors on it in the order of attaching, and a service.
pub struct Rig<S> {
    pub line: VirtualLine,
    pub sensors: Vec<SensorId>,
    pub service: VirtualService<S>,
}

pub fn ds18b20(serial: u64) -> SensorConfig {
    SensorConfig::new(Part::Ds18b20, serial)
}

pub fn code(sensor: &SensorConfig) -> RomCode {
    RomCode::new(sensor.rom.bytes()).unwrap()
}

impl Rig<NoStrongPullUp> {
    /// A rig whose clock counts nanoseconds and reports each change.
    pub fn new(config: LineConfig, sensors: &[SensorConfig]) -> Self {
        Self::with_clock(config, sensors, 1_000_000_000, Sampling::Exact)
    }

    pub fn with_clock(config: LineConfig, sensors: &[SensorConfig], hz: u32, sampling: Sampling) -> Self {
        Rig::build(config, sensors, hz, sampling, |_| NoStrongPullUp)
    }
}

impl Rig<PullUpSwitch<slotwise_virtual_line::StrongPullUpPin>> {
    pub fn with_strong_pull_up(config: LineConfig, sensors: &[SensorConfig]) -> Self {
        let config = LineConfig { strong_pull_up_ohm: Some(10), ..config };
        Rig::build(config, sensors, 1_000_000_000, Sampling::Exact, |line| {
            PullUpSwitch::new(line.strong_pull_up_pin().unwrap(), SwitchLevel::High).unwrap()
        })
    }
}

impl<S: StrongPullUp> Rig<S> {
    fn build(
        config: LineConfig,
        sensors: &[SensorConfig],
        hz: u32,
        sampling: Sampling,
        pull_up: impl FnOnce(&VirtualLine) -> S,
    ) -> Self {
        let line = VirtualLine::new(config, 7).unwrap();
        let sensors = sensors.iter().map(|sensor| line.attach(sensor.clone()).unwrap()).collect();
        // Firmware keeps it in a static; a test may leave it behind.
        let watch: &'static LineWatch =
            Box::leak(Box::new(Watch::new(line.pin(), LineClock::new(&line, hz, sampling))));
        let cpu = line.cpu();
        let overhead = Overhead { pin_write_ns: cpu.pin_write_ns, pin_read_ns: cpu.pin_read_ns, delay_ns: 0 };
        let pin_line = PinLine::new(WatchedPin(watch), WatchedDelay(watch), Timing::SHORT_LINE)
            .unwrap()
            .with_strong_pull_up(pull_up(&line))
            .unwrap()
            .with_overhead(overhead)
            .unwrap();
        let identity = Identity {
            version: "0.1.0",
            driver: "0.1.0",
            chip: "virtual",
            master: Master::Pin,
            carrier: Carrier::InProcess,
            core_hz: hz,
            tick_hz: hz,
            strong_pull_up: S::FITTED,
            reset: ResetCause::Unknown,
        };
        let supply = Some(PinSwitch::new(line.supply_switch_pin(), SwitchLevel::High));
        let switches = RigSwitches::new(supply, None, Box::leak(Box::new(Interlock::new())));
        let service = Service::new(identity, pin_line, watch, switches);
        Self { line, sensors, service }
    }

    pub fn ask(&mut self, request: Request) -> Reply {
        self.service.serve(request)
    }

    /// The report of a request that must succeed in this way.
    #[track_caller]
    pub fn expect<T: Debug>(&mut self, request: Request, take: impl FnOnce(Answer) -> Option<T>) -> (T, LineReport) {
        let Reply { answer, line } = self.ask(request);
        let text = format!("{answer:?}");
        (take(answer).unwrap_or_else(|| panic!("{request:?}: {text}")), line)
    }
}
