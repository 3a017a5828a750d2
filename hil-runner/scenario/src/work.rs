//! How much work a run is for the computer, counted in readings of one sensor: on a virtual rig each takes up to a tenth of
//! a millisecond.

use slotwise::thermometer::Supply;

use super::{Action, Bound, Convert, Expectation, MAX_ROUNDS, Measure, Step};
use slotwise_rig::Rig;
use slotwise_rig::{Fault, FaultKind};
use slotwise_terms::fixed_point::spacing_ms;

/// Noise pulses that are as much work as a reading.
const PULSES_PER_READING: u128 = 1_000;
/// What a conversion of all together adds.
const COMMON_CONVERSION: u128 = 3;
/// The least rig time of a reading: 152 slots of 61 us and a reset of 960 us (DS18B20 datasheet (7/19), AC Electrical
/// Characteristics). A pass of a search takes longer.
const LEAST_READING_MS: u128 = 10;
/// Rig time of a conversion with 12 bits (DS18B20 datasheet (7/19), Table 2).
const CONVERSION_MS: u128 = 750;
/// Rig time of a reading and all that goes with it.
const READING_MS: u128 = 20;

/// What some steps ask for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Work {
    /// Steps done, repetitions counted.
    pub(super) steps: u128,
    /// Rig time that is waited for.
    pub(super) waited_ms: u128,
    /// Rig time that transfers and conversions take, about.
    busy_ms: u128,
    /// Readings, and what on the line is as much work as readings.
    transfers: u128,
    /// Noise pulses.
    pulses: u128,
}

/// Counts work from step to step.
#[derive(Clone, Copy, Debug)]
pub(super) struct Counter<'r> {
    rig: &'r Rig,
    /// Noise pulses per second that are on the line.
    noise_per_second: u32,
}

impl<'r> Counter<'r> {
    pub(super) const fn new(rig: &'r Rig) -> Self {
        Self { rig, noise_per_second: 0 }
    }

    fn count_all(&mut self, steps: &[Step]) -> Work {
        steps.iter().fold(Work::default(), |sum, step| sum.and(self.count(step)))
    }

    /// The work of the next step.
    pub(super) fn count(&mut self, step: &Step) -> Work {
        let on_line = self.rig.inventory.len() as u128;
        let quiet = match &step.action {
            Action::Repeat { bound, steps, .. } => return self.count_rounds(*bound, steps),
            // As many passes as sensors, and at the end a supply request for each.
            Action::Find { times, .. } => busy((u128::from(*times) + 1) * on_line, 0),
            Action::AlarmSearch { .. } => busy(on_line, 0),
            // Read, written and read again.
            Action::Configure { sensors, .. } => busy(2 * sensors.len() as u128, 0),
            Action::Holds { sensors, .. } => busy(sensors.len() as u128, 0),
            Action::Measure(measure) => self.measure(measure),
            // All that there is time for, as a bath may never be stable.
            Action::FixedPoint(check) => {
                let rounds = u128::from(check.give_up_ms / spacing_ms(check.stable_for_ms) + 2);
                let round = COMMON_CONVERSION + check.sensors.len() as u128;
                Work { transfers: rounds * round, ..waited(u128::from(check.give_up_ms)) }
            }
            Action::Wait { ms } => waited(u128::from(*ms)),
            Action::PowerCycle { off_ms } => waited(u128::from(*off_ms)),
            Action::Inject(Fault::BrownOut { ms, .. }) => waited(u128::from(*ms)),
            Action::Inject(Fault::Noise { per_second, .. }) => {
                self.noise_per_second = *per_second;
                busy(0, 0)
            }
            Action::Clear(FaultKind::Noise) => {
                self.noise_per_second = 0;
                busy(0, 0)
            }
            Action::Ambient { .. } | Action::Inject(_) | Action::Clear(_) => busy(0, 0),
        };
        let pulses = (quiet.waited_ms + quiet.busy_ms) * u128::from(self.noise_per_second) / 1_000;
        Work { pulses, ..quiet }
    }

    fn measure(&self, measure: &Measure) -> Work {
        let (rig, sensors) = (self.rig, measure.sensors.len() as u128);
        match measure.convert {
            Convert::Not => busy(sensors, 0),
            Convert::OneByOne => busy(2 * sensors, sensors * CONVERSION_MS),
            Convert::Together => {
                // Then each scratchpad is read for the resolution in force.
                let reads_all = measure.expect.contains(&Expectation::InTime)
                    || rig.inventory.iter().any(|sensor| sensor.supply == Supply::Parasite);
                let looked_at = if reads_all { rig.inventory.len() as u128 } else { 0 };
                busy(COMMON_CONVERSION + sensors + looked_at, CONVERSION_MS)
            }
        }
    }

    fn count_rounds(&mut self, bound: Bound, steps: &[Step]) -> Work {
        // Noise may begin in one round and last into the next.
        let mut first = *self;
        first.count_all(steps);
        self.noise_per_second = self.noise_per_second.max(first.noise_per_second);
        let round = self.count_all(steps);
        let rounds = match bound {
            Bound::Times(times) => u128::from(times),
            Bound::ForMs(ms) => {
                let least_ms = round.waited_ms.saturating_add(round.transfers.saturating_mul(LEAST_READING_MS)).max(1);
                // The last round may begin right before the end.
                (u128::from(ms) / least_ms + 1).min(u128::from(MAX_ROUNDS))
            }
        };
        let all = round.times(rounds);
        match bound {
            Bound::Times(_) => all,
            Bound::ForMs(ms) => Work { waited_ms: round.waited_ms.saturating_add(u128::from(ms)), busy_ms: 0, ..all },
        }
    }
}

const fn waited(ms: u128) -> Work {
    Work { steps: 1, waited_ms: ms, busy_ms: 0, transfers: 0, pulses: 0 }
}

const fn busy(transfers: u128, converting_ms: u128) -> Work {
    Work { steps: 1, waited_ms: 0, busy_ms: converting_ms + transfers * READING_MS, transfers, pulses: 0 }
}

impl Work {
    /// All of it in readings.
    pub(super) const fn readings(self) -> u128 {
        self.transfers.saturating_add(self.pulses / PULSES_PER_READING)
    }

    pub(super) const fn and(self, other: Self) -> Self {
        Self {
            steps: self.steps.saturating_add(other.steps),
            waited_ms: self.waited_ms.saturating_add(other.waited_ms),
            busy_ms: self.busy_ms.saturating_add(other.busy_ms),
            transfers: self.transfers.saturating_add(other.transfers),
            pulses: self.pulses.saturating_add(other.pulses),
        }
    }

    const fn times(self, rounds: u128) -> Self {
        Self {
            steps: self.steps.saturating_mul(rounds),
            waited_ms: self.waited_ms.saturating_mul(rounds),
            busy_ms: self.busy_ms.saturating_mul(rounds),
            transfers: self.transfers.saturating_mul(rounds),
            pulses: self.pulses.saturating_mul(rounds),
        }
    }
}
