//! Which faults that a scenario injected can explain a failure of the whole line.
//!
//! A broken rig must not pass for a rig that the scenario broke, so each fault explains only what it can bring about.

use super::executor::Executor;
use slotwise_rig::{Fault, FaultKind, Rig, Sensor};
use slotwise_terms::FailureKind;

/// Rarer pulses cannot hit every one of several searches.
const OFTEN_PER_SECOND: u32 = 2;
/// What is fitted where nothing speaks against it (DS18B20 datasheet (7/19), Figure 12).
const USUAL_PULL_UP_OHM: u32 = 4_700;
/// A line that pulses hold low for this long, on average, or for this share of the time, rises late when it matters.
const LATE_US: f64 = 30.0;
const LATE_SHARE: f64 = 0.1;
/// One that they hold low for this long is stuck: the driver waits for 5 ms.
const STUCK_US: f64 = 1_000.0;
/// A short through more than so many times the pull-up takes less than a tenth of the line's level.
const SHORT_PER_PULL_UP: u64 = 10;

impl Executor<'_> {
    /// Remembers a fault that was injected: it takes the place of one of its kind, or joins those about other sensors.
    pub(super) fn remember(&mut self, fault: &Fault) {
        let is_about_sensors = |kind| matches!(kind, FaultKind::Unplug | FaultKind::SlowSensor | FaultKind::BitErrors);
        if !is_about_sensors(fault.kind()) {
            self.forget(fault.kind());
        }
        self.faults.push(fault.clone());
    }

    /// Forgets the faults of a kind that was cleared.
    pub(super) fn forget(&mut self, kind: FaultKind) {
        self.faults.retain(|fault| fault.kind() != kind);
    }
}

/// The faults that a scenario has injected into a rig and not cleared.
pub(super) struct Injected<'f> {
    pub(super) rig: &'f Rig,
    pub(super) faults: &'f [Fault],
}

impl Injected<'_> {
    /// Whether they explain a failure of the whole line.
    pub(super) fn explain(&self, failure: FailureKind) -> bool {
        let pull_up = self.pull_up_ohm();
        self.faults.iter().any(|fault| explains(fault, failure, pull_up)) || self.is_explained_by_unplugging(failure)
    }

    /// The pull-up in force, and the rig's own.
    fn pull_up_ohm(&self) -> PullUp {
        // A real line is taken to have one, as its file says nothing of it.
        let own = self.rig.virtual_line().map_or(Some(USUAL_PULL_UP_OHM), |line| line.pull_up_ohm);
        let injected = self.faults.iter().find_map(|fault| match fault {
            Fault::PullUp { ohm } => Some(*ohm),
            _ => None,
        });
        PullUp { own, in_force: injected.or(own) }
    }

    /// All sensors that were there have been unplugged, by one step or several.
    fn is_explained_by_unplugging(&self, failure: FailureKind) -> bool {
        let unplugged: Vec<usize> = self
            .faults
            .iter()
            .flat_map(|fault| match fault {
                Fault::Unplug(sensors) => sensors.as_slice(),
                _ => &[],
            })
            .copied()
            .collect();
        // A twin is in no inventory, and stays.
        let is_gone = |(index, sensor): &(usize, &Sensor)| unplugged.contains(index) && sensor.behaviour.twin.is_none();
        let mut connected = self.rig.inventory.iter().enumerate().filter(|(_, sensor)| sensor.behaviour.connected);
        let all = !unplugged.is_empty() && connected.all(|sensor| is_gone(&sensor));
        all && failure == FailureKind::NoPresence
    }
}

/// Pull-up resistors of a rig; none: there is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct PullUp {
    own: Option<u32>,
    in_force: Option<u32>,
}

/// Whether one fault explains a failure of the whole line.
fn explains(fault: &Fault, failure: FailureKind, pull_up: PullUp) -> bool {
    use FailureKind::{AllZeros, Crc, Disturbed, MasterTooLate, NeverIdleHigh, NoPresence, SearchLost, StuckLow};
    let is_garbled = matches!(failure, Disturbed | SearchLost | AllZeros | Crc);
    let is_low = is_garbled || matches!(failure, StuckLow | NeverIdleHigh | MasterTooLate);
    match *fault {
        // Through a large resistance it takes hardly anything from the line; without a pull-up the line is low anyway.
        Fault::Short { ohm } => {
            let takes = |pull_up| u64::from(ohm) <= SHORT_PER_PULL_UP * u64::from(pull_up);
            is_low && pull_up.in_force.is_some_and(takes)
        }
        // A weaker one than the rig's own makes the line low or slow, a stronger one too much for the sensors.
        Fault::PullUp { ohm } => {
            let is_weaker = pull_up.own.is_some_and(|own| ohm > own);
            let is_stronger = pull_up.own.is_none_or(|own| ohm < own);
            is_weaker && is_low || is_stronger && (is_garbled || failure == NoPresence)
        }
        Fault::Open => failure == NoPresence,
        Fault::Noise { per_second, width_us } => {
            is_garbled || failure == MasterTooLate || noise_holds_low(per_second, width_us, failure)
        }
        // Unplugging takes all of those unplugged together. A dip is over with its step. The others are about the bits and
        // the pace of one sensor.
        Fault::Unplug(_) | Fault::BrownOut { .. } | Fault::SlowSensor { .. } | Fault::BitErrors { .. } => false,
    }
}

/// Whether pulses keep a line from being high, time after time. They only pull it low and hide no sensor.
fn noise_holds_low(per_second: u32, width_us: u32, failure: FailureKind) -> bool {
    if per_second < OFTEN_PER_SECOND {
        return false;
    }
    // Pulses at random moments overlap: with `load` of them at a time, on average, the line is low for so long in one go.
    let per_us = f64::from(per_second) / 1e6;
    let load = per_us * f64::from(width_us);
    let (low_us, low_share) = (load.exp_m1() / per_us, 1.0 - (-load).exp());
    match failure {
        FailureKind::NeverIdleHigh => low_us >= LATE_US || low_share >= LATE_SHARE,
        FailureKind::StuckLow => low_us >= STUCK_US,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const OWN: PullUp = PullUp { own: Some(2_200), in_force: Some(2_200) };
    const NONE: PullUp = PullUp { own: None, in_force: None };

    #[track_caller]
    fn assert_explains(fault: &Fault, pull_up: PullUp, expected: &[FailureKind]) {
        use FailureKind::{Disturbed, NeverIdleHigh, NoPresence, NoStrongPullUp, SearchLost, StuckLow};
        let all = [NoPresence, StuckLow, NeverIdleHigh, Disturbed, SearchLost, NoStrongPullUp];
        let explained: Vec<FailureKind> = all.into_iter().filter(|kind| explains(fault, *kind, pull_up)).collect();
        assert_eq!(explained, expected, "{fault:?}");
    }

    #[test]
    fn each_fault_explains_what_it_can_bring_about_and_nothing_else() {
        use FailureKind::{Disturbed, NeverIdleHigh, NoPresence, SearchLost, StuckLow};
        assert_explains(&Fault::Short { ohm: 10 }, OWN, &[StuckLow, NeverIdleHigh, Disturbed, SearchLost]);
        assert_explains(&Fault::Short { ohm: 100_000 }, OWN, &[]);
        assert_explains(&Fault::Short { ohm: 10 }, NONE, &[]);
        assert_explains(&Fault::Open, OWN, &[NoPresence]);
        let (weak, strong) = (Fault::PullUp { ohm: 47_000 }, Fault::PullUp { ohm: 100 });
        let weaker = PullUp { own: Some(2_200), in_force: Some(47_000) };
        assert_explains(&weak, weaker, &[StuckLow, NeverIdleHigh, Disturbed, SearchLost]);
        assert_explains(
            &strong,
            PullUp { own: Some(2_200), in_force: Some(100) },
            &[NoPresence, Disturbed, SearchLost],
        );
        assert_explains(&weak, PullUp { own: None, in_force: Some(47_000) }, &[NoPresence, Disturbed, SearchLost]);
        let noise = |per_second, width_us| Fault::Noise { per_second, width_us };
        assert_explains(&noise(1, 15), OWN, &[Disturbed, SearchLost]);
        assert_explains(&noise(1, 10_000), OWN, &[Disturbed, SearchLost]);
        assert_explains(&noise(1_000, 20), OWN, &[Disturbed, SearchLost]);
        assert_explains(&noise(20_000, 20), OWN, &[NeverIdleHigh, Disturbed, SearchLost]);
        assert_explains(&noise(100, 200), OWN, &[NeverIdleHigh, Disturbed, SearchLost]);
        assert_explains(&noise(20_000, 200), OWN, &[StuckLow, NeverIdleHigh, Disturbed, SearchLost]);
        assert_explains(&noise(100, 2_000), OWN, &[StuckLow, NeverIdleHigh, Disturbed, SearchLost]);
        assert_explains(&noise(100_000, 10_000), OWN, &[StuckLow, NeverIdleHigh, Disturbed, SearchLost]);
        assert_explains(&Fault::Unplug(vec![0]), OWN, &[]);
        assert_explains(&Fault::BrownOut { to_mv: 0, ms: 1 }, OWN, &[]);
        assert_explains(&Fault::SlowSensor { sensor: 0, permille: 2_000 }, OWN, &[]);
        assert_explains(&Fault::BitErrors { sensor: 0, ppm: 1_000_000 }, OWN, &[]);
    }
}
