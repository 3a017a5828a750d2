//! The traffic of a capture, transaction by transaction.

use super::line::{Line, Sampled, Step};
use super::master::{Master, Style};
use super::rng::Rng;
use super::sensor::Sensor;
use super::twist::{Twist, Waiting};

/// A capture under construction.
#[derive(Clone, Debug)]
pub struct Maker {
    pub rng: Rng,
    pub line: Line,
    pub now: u64,
    pub master: Master,
    pub sensors: Vec<Sensor>,
    pub step: Step,
    pub waiting: Option<Waiting>,
    /// Where the twist happened.
    pub hit: Option<(u64, u64)>,
    /// When the last transaction began, and when its last slot rose.
    pub reset_at: u64,
    pub rose_at: u64,
    pub has_copied: bool,
}

/// The sensors that a command addresses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    All,
    One(usize),
}

/// How the end of a conversion is waited for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wait {
    Polled,
    Timed,
}

/// What a capture is to be like.
#[derive(Clone, Copy, Debug)]
pub struct Wish {
    pub sensors: (u64, u64),
    pub is_parasite: Option<bool>,
    pub style: Option<Style>,
    pub families: &'static [u8],
}

pub const ANY: Wish = Wish {
    sensors: (1, 5),
    is_parasite: None,
    style: None,
    families: &[0x28, 0x28, 0x28, 0x28, 0x10, 0x22, 0x3B, 0x42],
};

impl Maker {
    pub fn new(seed: u64, step: Step, wish: Wish) -> Self {
        let mut rng = Rng::new(seed);
        let count = rng.between(wish.sensors.0, wish.sensors.1);
        let is_parasite = wish.is_parasite.unwrap_or_else(|| rng.one_in(4));
        let mut sensors: Vec<Sensor> = Vec::new();
        for _ in 0..count {
            let family = rng.pick(wish.families);
            let mut sensor = Sensor::new(family, &mut rng);
            // Two that agree in the first bits are rare among random numbers, and common in a batch.
            if let Some(first) = sensors.first().filter(|first| first.rom[0] == family)
                && rng.one_in(2)
            {
                sensor.rom[1] = first.rom[1];
                sensor.rom[7] = super::sensor::crc(&sensor.rom[..7]);
            }
            sensor.is_parasite = is_parasite;
            sensors.push(sensor);
        }
        let style =
            wish.style.unwrap_or_else(|| rng.pick(&[Style::Corner, Style::Steady, Style::Steady, Style::Loose]));
        let is_slow = sensors.iter().any(|sensor| sensor.rom[0] == 0x42);
        let shortest = sensors.iter().map(|sensor| sensor.hold_ns).min().unwrap_or(60_000);
        let master = Master::new(style, is_slow, is_parasite, shortest, step.whole_ns(), &mut rng);
        let now = rng.between(100_000, 5_000_000);
        Self {
            rng,
            line: Line::default(),
            now,
            master,
            sensors,
            step,
            waiting: None,
            hit: None,
            reset_at: now,
            rose_at: now,
            has_copied: false,
        }
    }

    pub fn sampled(&mut self) -> Sampled {
        let phase = self.rng.below(self.step.whole_ns());
        let end = self.now + self.rng.between(400_000, 3_000_000);
        self.line.sampled(self.step, phase, 0, end)
    }

    /// Runs a block with one thing in it twisted, at a place that is chosen among all where it can be.
    pub fn twisted<R>(&mut self, twist: Twist, block: impl Fn(&mut Self) -> R) -> Option<(u64, u64)> {
        let mut dry = self.clone();
        dry.waiting = Some(Waiting { twist, left: u64::MAX, seen: 0 });
        let _ = block(&mut dry);
        let seen = dry.waiting.map_or(0, |waiting| waiting.seen);
        if seen == 0 {
            return None;
        }
        // Of a copy: the dry run and this one are the same up to there.
        let place = self.rng.clone().below(seen);
        self.waiting = Some(Waiting { twist, left: place, seen: 0 });
        self.hit = None;
        let _ = block(self);
        self.waiting = None;
        self.hit
    }

    /// Whether it is this one's turn.
    fn turn(&mut self, is_it: impl Fn(Twist) -> bool) -> Option<Twist> {
        let waiting = self.waiting.as_mut().filter(|waiting| is_it(waiting.twist))?;
        waiting.seen += 1;
        if waiting.left > 0 {
            waiting.left -= 1;
            return None;
        }
        let twist = waiting.twist;
        self.waiting = None;
        Some(twist)
    }

    pub fn present(&self) -> Vec<usize> {
        (0..self.sensors.len()).filter(|place| self.sensors[*place].is_there).collect()
    }

    pub fn rest(&mut self, ns: u64) {
        self.now += ns;
    }

    /// A reset with its presence pulse, up to the end of tRSTH.
    pub fn reset(&mut self) {
        self.reset_at = self.now;
        let mut low = self.master.reset_low.one(&mut self.rng);
        let mut high = self.master.reset_high.one(&mut self.rng);
        if let Some(Twist::ResetLow(ns)) = self.turn(|twist| matches!(twist, Twist::ResetLow(_))) {
            low = ns;
            self.hit = Some((self.now, self.now + low));
        }
        self.line.pull(self.now, self.now + low);
        if let Some(Twist::ResetRinging(ns)) = self.turn(|twist| matches!(twist, Twist::ResetRinging(_))) {
            let from = self.now + low * self.rng.between(25, 75) / 100;
            self.line.release(from, from + ns);
            self.hit = Some((from, from + ns));
        }
        let rose = self.now + low;
        let is_silent = self.turn(|twist| twist == Twist::NoPresence).is_some();
        if is_silent {
            self.hit = Some((self.now, rose + high));
        }
        let present = if is_silent { Vec::new() } else { self.present() };
        let mut pulse: Option<(u64, u64)> = None;
        for place in present {
            let sensor = &self.sensors[place];
            let from = rose + sensor.presence_after_ns;
            let to = from + sensor.presence_low_ns;
            pulse = Some(pulse.map_or((from, to), |(f, t)| (f.min(from), t.max(to))));
        }
        if let Some((mut from, mut to)) = pulse {
            if let Some(Twist::PresenceAfter(ns)) = self.turn(|twist| matches!(twist, Twist::PresenceAfter(_))) {
                (from, to) = (rose + ns, rose + ns + (to - from));
                self.hit = Some((rose, to));
            }
            if let Some(Twist::PresenceLow(ns)) = self.turn(|twist| matches!(twist, Twist::PresenceLow(_))) {
                to = from + ns;
                self.hit = Some((from, to));
            }
            self.line.pull(from, to);
            if let Some(Twist::PresenceRinging(ns)) = self.turn(|twist| matches!(twist, Twist::PresenceRinging(_))) {
                let at = from + (to - from) * self.rng.between(25, 75) / 100;
                self.line.release(at, at + ns);
                self.hit = Some((at, at + ns));
            }
            // A master waits until the line is up, whatever happens.
            high = high.max(to - rose + 5_000);
        }
        if let Some(Twist::ResetHigh(ns)) = self.turn(|twist| matches!(twist, Twist::ResetHigh(_))) {
            high = ns;
            self.hit = Some((rose, rose + high));
        }
        self.rose_at = rose;
        self.now = rose + high;
    }

    /// The rest of a slot that was low for so long.
    fn slot(&mut self, low: u64, is_written_zero: bool, is_read_zero: bool) {
        let fell = self.now;
        self.line.pull(fell, fell + low);
        self.rose_at = fell + low;
        let recovery = self.master.recovery.one(&mut self.rng);
        let slot = self.master.slot.one(&mut self.rng);
        let mut next = fell + slot.max(low + recovery);
        if let Some(Twist::Slot(ns)) = self.turn(|twist| matches!(twist, Twist::Slot(ns) if low + 6_000 <= ns)) {
            next = fell + ns;
            self.hit = Some((fell, next));
        }
        if let Some(Twist::Recovery(ns)) = self.turn(|twist| matches!(twist, Twist::Recovery(_)) && low >= 66_000) {
            next = fell + low + ns;
            self.hit = Some((fell + low, next));
        }
        let is_ringing = |twist| {
            matches!(twist, Twist::ZeroRinging(_)) && is_written_zero
                || matches!(twist, Twist::ReadRinging(_)) && is_read_zero
        };
        if let Some(Twist::ZeroRinging(ns) | Twist::ReadRinging(ns)) = self.turn(is_ringing) {
            let at = fell + low * self.rng.between(30, 70) / 100;
            self.line.release(at, at + ns);
            self.hit = Some((at, at + ns));
        }
        let high = next - (fell + low);
        let step = self.step.whole_ns();
        let fits = |twist| matches!(twist, Twist::Noise(ns) if high > ns + 4 * step + 1_000);
        if let Some(Twist::Noise(ns)) = self.turn(fits) {
            let from = fell + low + 2 * step + self.rng.below(high - ns - 4 * step);
            self.line.pull(from, from + ns);
            self.hit = Some((from, from + ns));
        }
        self.now = next;
    }

    pub fn write_bit(&mut self, bit: bool) {
        let mut low =
            if bit { self.master.one_low.one(&mut self.rng) } else { self.master.zero_low.one(&mut self.rng) };
        let is_it = |twist| matches!(twist, Twist::OneLow(_)) && bit || matches!(twist, Twist::ZeroLow(_)) && !bit;
        if let Some(Twist::OneLow(ns) | Twist::ZeroLow(ns)) = self.turn(is_it) {
            low = ns;
            self.hit = Some((self.now, self.now + low));
        }
        self.slot(low, !bit, false);
    }

    pub fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            for place in 0..8 {
                self.write_bit(byte >> place & 1 == 1);
            }
        }
    }

    /// A slot in which these sensors hold the line.
    pub fn read_bit(&mut self, holders: &[usize]) -> bool {
        let mut low = self.master.read_low.one(&mut self.rng);
        let mut is_zero = !holders.is_empty();
        if self.turn(|twist| twist == Twist::ReadFlip).is_some() {
            is_zero = !is_zero;
            self.hit = Some((self.now, self.now + 60_000));
        }
        if is_zero {
            // A bit that is read wrong is held as long as others are.
            let usual = self.sensors.first().map_or(30_000, |of| of.hold_ns);
            let held = holders.iter().map(|place| self.sensors[*place].hold_ns).max().unwrap_or(usual);
            let held = (held + self.rng.below(1_000)).min(60_000);
            low = low.max(held);
        }
        let is_it = |twist| {
            matches!(twist, Twist::ReadOneLow(_)) && !is_zero || matches!(twist, Twist::ReadZeroLow(_)) && is_zero
        };
        if let Some(Twist::ReadOneLow(ns) | Twist::ReadZeroLow(ns)) = self.turn(is_it) {
            low = ns;
            self.hit = Some((self.now, self.now + low));
        }
        self.slot(low, false, is_zero);
        !is_zero
    }

    /// Bytes that several sensors send at once: each that sends 0 holds the line.
    pub fn answer(&mut self, answers: &[(usize, &[u8])], bits: usize) {
        for place in 0..bits {
            let holders: Vec<usize> = answers
                .iter()
                .filter(|(_, bytes)| bytes.get(place / 8).is_some_and(|byte| byte >> (place % 8) & 1 == 0))
                .map(|(sensor, _)| *sensor)
                .collect();
            let _ = self.read_bit(&holders);
        }
    }

    pub fn select(&mut self, target: Target) {
        self.reset();
        match target {
            Target::All => self.write(&[0xCC]),
            Target::One(place) => {
                let rom = self.sensors[place].rom;
                self.write(&[0x55]);
                self.write(&rom);
            }
        }
    }

    /// Between two transactions.
    pub fn pause(&mut self) {
        let rest = self.master.rest.one(&mut self.rng);
        self.rest(rest);
    }

    pub fn reached(&self, target: Target) -> Vec<usize> {
        match target {
            Target::All => self.present(),
            Target::One(place) => vec![place].into_iter().filter(|place| self.sensors[*place].is_there).collect(),
        }
    }

    pub fn is_parasite(&self) -> bool {
        self.sensors.iter().any(|sensor| sensor.is_parasite)
    }
}
