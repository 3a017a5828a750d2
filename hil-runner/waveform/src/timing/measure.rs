//! From what the decoder finds to times.

use std::collections::BTreeMap;

use super::verdict::is_beyond;
use super::{LineTime, Party, Spread, window};
use crate::decode::{Event, Role, Slot, Speed};
use crate::pulse::Pulse;
use crate::who::Who;
use slotwise_limits::Window;

/// What the master's last pulse was, as long as its distance to the next one counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Last {
    Reset(Pulse, Speed),
    Slot(Pulse, Speed),
}

/// Sensors of which times are kept. A line has not as many.
const SENSORS: usize = 2_000;

/// Zeros of one sensor that were held for too short or too long, as far as that goes by one step of the capture and more.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Extremes {
    /// The shortest, and when it began.
    pub(crate) least: Option<(u64, u64)>,
    /// The longest, and when it began.
    pub(crate) most: Option<(u64, u64)>,
    /// How many there were.
    pub(crate) count: u64,
    /// How many of them are beyond a limit.
    pub(crate) broken: u64,
}

impl Extremes {
    fn add(&mut self, ns: u64, at_ns: u64, is_broken: bool) {
        self.count += 1;
        self.broken += u64::from(is_broken);
        if self.least.is_none_or(|least| ns < least.0) {
            self.least = Some((ns, at_ns));
        }
        if self.most.is_none_or(|most| ns > most.0) {
            self.most = Some((ns, at_ns));
        }
    }

    pub(crate) fn merge(&mut self, other: &Self) {
        self.count += other.count;
        self.broken += other.broken;
        let least = other.least.filter(|of| self.least.is_none_or(|least| of.0 < least.0));
        let most = other.most.filter(|of| self.most.is_none_or(|most| of.0 > most.0));
        (self.least, self.most) = (least.or(self.least), most.or(self.most));
    }
}

/// All times of a capture.
#[derive(Clone, Debug, Default)]
pub struct Measures {
    spreads: BTreeMap<(Speed, LineTime), Spread>,
    last: Option<Last>,
    /// Zeros that are read in the transaction under way: it is known at its end whose they are.
    zeros: BTreeMap<Speed, Extremes>,
    zeros_of: BTreeMap<(Speed, Option<Who>), Extremes>,
    /// The limits of zeros that are read, at standard speed and at overdrive speed.
    zero_windows: Vec<Window>,
    /// A time is known to less than this, up and down.
    step_ns: u64,
    /// Whether the transaction under way does not add up.
    is_unclear: bool,
}

impl Measures {
    /// A time is known to less than this, up and down.
    #[must_use]
    pub fn new(step_ns: u64) -> Self {
        let of = |speed| window(speed, LineTime::ReadZeroLow, &Party::default());
        Self { step_ns, zero_windows: vec![of(Speed::Standard), of(Speed::Overdrive)], ..Self::default() }
    }

    /// Takes what the decoder found. `answers_of`: the sensor that answers in the last transaction, once it is over.
    pub(crate) fn take(&mut self, event: &Event, answers_of: Option<Who>) {
        match *event {
            Event::Reset { pulse, speed } => {
                self.distance(pulse);
                self.add(speed, LineTime::ResetLow, pulse.low_ns(), pulse.fell_ns);
                self.last = Some(Last::Reset(pulse, speed));
            }
            Event::Presence { pulse, after_ns, speed } => {
                self.add(speed, LineTime::PresenceDelay, after_ns, pulse.fell_ns.saturating_sub(after_ns));
                self.add(speed, LineTime::PresenceLow, pulse.low_ns(), pulse.fell_ns);
            }
            Event::Slot(_) if self.is_unclear => self.last = None,
            // Where nothing is due not even the speed is sure.
            Event::Slot(Slot { role: Role::Unknown, .. }) => self.last = None,
            Event::Slot(slot) => {
                self.distance(slot.pulse);
                self.low(slot);
                self.last = Some(Last::Slot(slot.pulse, slot.speed));
            }
            Event::Lost | Event::Low(_) => self.last = None,
            Event::Opening(pulse) => self.last = Some(Last::Reset(pulse, Speed::Standard)),
            Event::Unclear { .. } => self.is_unclear = true,
            Event::Transaction(_) => {
                self.is_unclear = false;
                for (speed, zeros) in std::mem::take(&mut self.zeros) {
                    let who = answers_of.filter(|_| self.zeros_of.len() < SENSORS);
                    self.zeros_of.entry((speed, who)).or_default().merge(&zeros);
                }
            }
            Event::Stray(_) | Event::Ringing { .. } => {}
        }
    }

    fn distance(&mut self, next: Pulse) {
        match self.last {
            Some(Last::Reset(reset, speed)) => {
                let high_ns = next.fell_ns.saturating_sub(reset.rose_ns);
                self.add(speed, LineTime::ResetHigh, high_ns, reset.rose_ns);
            }
            Some(Last::Slot(slot, speed)) => {
                self.add(speed, LineTime::Slot, next.fell_ns.saturating_sub(slot.fell_ns), slot.fell_ns);
                self.add(speed, LineTime::Recovery, next.fell_ns.saturating_sub(slot.rose_ns), slot.rose_ns);
            }
            None => {}
        }
    }

    fn low(&mut self, slot: Slot) {
        let time = match (slot.role, slot.bit) {
            (Role::Write, false) => LineTime::WriteZeroLow,
            (Role::Write, true) => LineTime::WriteOneLow,
            (Role::Read, false) => LineTime::ReadZeroLow,
            (Role::Read, true) => LineTime::ReadLow,
            // Whose it is depends on what was due, and nothing was.
            (Role::Unknown, _) => return,
        };
        let (low_ns, fell_ns) = (slot.pulse.low_ns(), slot.pulse.fell_ns);
        if time == LineTime::ReadZeroLow {
            let place = usize::from(slot.speed == Speed::Overdrive);
            let is_broken = self.zero_windows.get(place).is_some_and(|window| is_beyond(window, low_ns, self.step_ns));
            self.zeros.entry(slot.speed).or_default().add(low_ns, fell_ns, is_broken);
        }
        self.add(slot.speed, time, low_ns, fell_ns);
    }

    /// Zeros of sensors with some beyond a limit, and whose they are, if that is known.
    pub(crate) fn broken_zeros(&self) -> Vec<(Speed, Option<Who>, Extremes)> {
        let broken = self.zeros_of.iter().filter(|(_, of)| of.broken > 0);
        broken.map(|((speed, who), of)| (*speed, *who, *of)).collect()
    }

    fn add(&mut self, speed: Speed, time: LineTime, ns: u64, at_ns: u64) {
        self.spreads.entry((speed, time)).or_default().add(ns, at_ns);
    }

    /// The times that occurred, in the order of reports.
    pub fn spreads(&self) -> impl Iterator<Item = (Speed, LineTime, &Spread)> {
        self.spreads.iter().map(|((speed, time), spread)| (*speed, *time, spread))
    }
}
