//! A player on a pin of its own on a virtual line, in the same virtual time as the master: the master's delay lets the player sample the
//! pin whenever the line changes and whenever it has something to do.

use std::cell::RefCell;
use std::rc::Rc;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin, StatefulOutputPin};
use slotwise::bus::Bus;
use slotwise::line::{PinLine, Timing as MasterTiming};
use slotwise_player::{Clock, Input, Moment, Part, Player, Port, SensorConfig, Timing};
use slotwise_virtual_line::{DataPin, JoinedPin, LineConfig, MasterPin, VirtualLine};

pub(crate) const HZ: u32 = 72_000_000;

/// The line as the player's pin.
struct LinePort {
    pin: JoinedPin,
    line: VirtualLine,
}

impl Input for LinePort {
    fn is_low(&mut self) -> bool {
        let Ok(low) = self.pin.is_low();
        low
    }

    fn ticks(&mut self) -> u32 {
        // 72 ticks in 1000 ns.
        (self.line.now_ns() * 72 / 1_000) as u32
    }
}

impl Port for LinePort {
    fn drive_low(&mut self) {
        let Ok(()) = self.pin.set_low();
    }

    fn release(&mut self) {
        let Ok(()) = self.pin.set_high();
    }
}

/// What samples the line.
struct Stage {
    player: Player,
    port: LinePort,
    /// From an event to the sample that finds it.
    latency_ns: u64,
}

/// A line with a player on it. Clones are handles on the same.
#[derive(Clone)]
pub(crate) struct Played {
    pub(crate) line: VirtualLine,
    stage: Rc<RefCell<Stage>>,
}

/// The longest stretch without a sample: the counter wraps after 59 s.
const LONGEST_NS: u64 = 1_000_000_000;

impl Played {
    pub(crate) fn on(line: &VirtualLine, timing: Timing) -> Self {
        let clock = Clock::new(HZ).unwrap();
        let port = LinePort { pin: line.join(MasterPin::default()).unwrap(), line: line.clone() };
        let stage = Stage { player: Player::new(clock, timing), port, latency_ns: 300 };
        Self { line: line.clone(), stage: Rc::new(RefCell::new(stage)) }
    }

    pub(crate) fn new() -> Self {
        Self::on(&VirtualLine::new(LineConfig::default(), 1).unwrap(), Timing::typical())
    }

    pub(crate) fn set_latency_ns(&self, latency_ns: u64) {
        self.stage.borrow_mut().latency_ns = latency_ns;
    }

    pub(crate) fn player<R>(&self, with: impl FnOnce(&mut Player) -> R) -> R {
        with(&mut self.stage.borrow_mut().player)
    }

    /// Whether the player's pin pulls the line low.
    pub(crate) fn pulls(&self) -> bool {
        let Ok(low) = self.stage.borrow_mut().port.pin.is_set_low();
        low
    }

    pub(crate) fn add(&self, config: SensorConfig) -> u8 {
        self.player(|player| player.sensors().add(config)).unwrap()
    }

    /// Lets time pass for line and player.
    pub(crate) fn pass(&self, ns: u64) {
        let stage = &mut *self.stage.borrow_mut();
        let target_ns = self.line.now_ns().saturating_add(ns);
        loop {
            stage.sample();
            let now_ns = self.line.now_ns();
            if now_ns >= target_ns {
                return;
            }
            let due = stage.player.next_due().map(|due| {
                let ticks = due.wrapping_sub(stage.port.ticks());
                let ticks = if ticks > u32::MAX / 2 { 0 } else { ticks };
                now_ns + (u64::from(ticks) * 1_000).div_ceil(72)
            });
            let event = self.line.next_event_ns().map(|at| at + stage.latency_ns);
            let next = [due, event, Some(now_ns + LONGEST_NS)].into_iter().flatten().min().unwrap_or(target_ns);
            self.line.advance_ns(next.clamp(now_ns + 1, target_ns) - now_ns);
        }
    }

    /// A bus of our driver as the master.
    pub(crate) fn bus(&self) -> Bus<PinLine<DataPin, PlayedDelay>> {
        Bus::new(PinLine::new(self.line.pin(), PlayedDelay(self.clone()), MasterTiming::LONG_LINE).unwrap())
    }
}

impl Stage {
    /// Samples until nothing changes: a core samples some twenty times in the shortest of all times here.
    fn sample(&mut self) {
        let samples = if self.player.poll(&mut self.port) == Moment::Reset { 33 } else { 3 };
        for _ in 0..samples {
            self.player.poll(&mut self.port);
        }
    }
}

/// The master's delay.
pub(crate) struct PlayedDelay(Played);

impl DelayNs for PlayedDelay {
    fn delay_ns(&mut self, ns: u32) {
        self.0.pass(u64::from(ns));
    }

    fn delay_us(&mut self, us: u32) {
        self.0.pass(u64::from(us) * 1_000);
    }

    fn delay_ms(&mut self, ms: u32) {
        self.0.pass(u64::from(ms) * 1_000_000);
    }
}

/// Twenty sensors of all parts, their temperatures a degree and a sixteenth apart.
pub(crate) fn crowd(played: &Played) -> Vec<SensorConfig> {
    (0..20)
        .map(|number: i16| {
            let part = Part::ALL[usize::from(number.unsigned_abs()) % Part::ALL.len()];
            let serial = 0x0000_5A00_0000 + u64::from(number.unsigned_abs()) * 0x1357;
            let config = SensorConfig { sixteenths: -160 + 17 * number, ..SensorConfig::new(part, serial) };
            played.add(config);
            config
        })
        .collect()
}

/// A master by hand, for what no driver does.
pub(crate) struct Hand {
    pub(crate) played: Played,
    pin: DataPin,
}

impl Hand {
    pub(crate) fn new(played: &Played) -> Self {
        Self { played: played.clone(), pin: played.line.pin() }
    }

    pub(crate) fn low(&mut self, ns: u64) {
        let Ok(()) = self.pin.set_low();
        self.played.pass(ns);
        let Ok(()) = self.pin.set_high();
    }

    pub(crate) fn is_high(&mut self) -> bool {
        let Ok(high) = self.pin.is_high();
        high
    }

    /// Whether there was a presence pulse.
    pub(crate) fn reset(&mut self) -> bool {
        self.low(480_000);
        self.played.pass(70_000);
        let present = !self.is_high();
        self.played.pass(420_000);
        present
    }

    pub(crate) fn write_bit(&mut self, bit: bool) {
        let low_ns = if bit { 3_000 } else { 61_000 };
        self.low(low_ns);
        self.played.pass(70_000 - low_ns);
    }

    pub(crate) fn read_bit(&mut self) -> bool {
        self.low(3_000);
        self.played.pass(10_000);
        let bit = self.is_high();
        self.played.pass(57_000);
        bit
    }

    pub(crate) fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            (0..8).for_each(|place| self.write_bit(byte >> place & 1 == 1));
        }
    }

    pub(crate) fn read<const N: usize>(&mut self) -> [u8; N] {
        std::array::from_fn(|_| (0..8).fold(0, |byte, place| byte | u8::from(self.read_bit()) << place))
    }
}
