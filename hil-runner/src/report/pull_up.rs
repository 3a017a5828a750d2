//! The pull-up resistors that suit a line: weak enough for its sensors to pull it low, strong enough to bring it up in time.

use slotwise::line::Timing;

use crate::rig::{Rig, TimingSet, VirtualLine};

/// Input current of a sensor on a high line, typically (DS18B20 datasheet (7/19), DC table).
pub(super) const SENSOR_UA: u64 = 5;
/// Input capacitance of a sensor, at most (DS18B20 datasheet (7/19), AC table).
const SENSOR_PF: u64 = 25;
/// What a sensor can draw from the line at `SINK_MV`, at least (DS18B20 datasheet (7/19), DC table).
const SINK_MA: u64 = 4;
/// A low line, at most.
const SINK_MV: u64 = 400;
/// What is fitted where nothing speaks against it (DS18B20 datasheet (7/19), Figure 12).
const USUAL_OHM: u64 = 4_700;
/// Values that can be bought, of each decade (E12).
const VALUES: [u64; 12] = [10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82];
/// No pull-up is looked at beyond this one.
const LARGEST_OHM: u64 = 10_000_000;

/// What speaks for and against a pull-up on a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct PullUps {
    supply_mv: u64,
    /// What all sensors draw from a high line.
    load_ua: u64,
    /// Capacitance of cable and sensors.
    pub(super) picofarad: u64,
    /// The driver wants the line high so long after a reset pulse.
    pub(super) rise_ns: u32,
}

impl PullUps {
    pub(super) fn of(rig: &Rig, line: &VirtualLine) -> Self {
        let twins = rig.inventory.iter().filter(|sensor| sensor.behaviour.twin.is_some()).count();
        let sensors = (rig.inventory.len() + twins) as u64;
        let timing = match rig.timing {
            TimingSet::Recommended => Timing::RECOMMENDED,
            TimingSet::LongLine => Timing::LONG_LINE,
        };
        Self {
            supply_mv: line.supply_mv.into(),
            load_ua: SENSOR_UA * sensors,
            picofarad: u64::from(line.cable_mm) * u64::from(line.cable_pf_per_m) / 1000 + SENSOR_PF * sensors,
            rise_ns: timing.rise_check_ns,
        }
    }

    /// The level of the idle line behind this one.
    pub(super) fn idle_mv(&self, ohm: u64) -> u64 {
        // ohm x uA = uV.
        self.supply_mv.saturating_sub(ohm.saturating_mul(self.load_ua) / 1000)
    }

    /// Whether the sensors draw so much through this one that the line is never high: 70 % of the supply.
    pub(super) fn is_overloaded_by(&self, ohm: u64) -> bool {
        self.idle_mv(ohm) * 10 <= self.supply_mv * 7
    }

    /// Whether the line is high in time behind this one.
    pub(super) fn is_quick_with(&self, ohm: u64) -> bool {
        if self.is_overloaded_by(ohm) {
            return false;
        }
        // It rises from 0 V towards its idle level: t = RC ln(idle / (idle - high)). ohm x pF / 1000 = ns.
        let (idle, high) = (self.idle_mv(ohm) as f64, self.supply_mv as f64 * 0.7);
        let time_constant_ns = ohm as f64 * self.picofarad as f64 / 1000.0;
        time_constant_ns * (idle / (idle - high)).ln() <= f64::from(self.rise_ns)
    }

    /// The largest that brings the line up in time.
    pub(super) fn most_ohm(&self) -> u64 {
        let (mut does, mut does_not) = (0, LARGEST_OHM);
        while does_not - does > 1 {
            let middle = does.midpoint(does_not);
            if self.is_quick_with(middle) {
                does = middle;
            } else {
                does_not = middle;
            }
        }
        does
    }

    /// The smallest that a sensor can pull low.
    pub(super) fn least_ohm(&self) -> u64 {
        self.supply_mv.saturating_sub(SINK_MV) / SINK_MA
    }

    /// What to fit: 4.7 kohm if that does, else the weakest that does, of those that can be bought if there is one.
    /// `None`: no resistor does.
    pub(super) fn advised_ohm(&self) -> Option<u64> {
        let most = self.most_ohm().min(USUAL_OHM);
        let decades = [1, 10, 100].into_iter();
        let values = decades.flat_map(|decade| VALUES.into_iter().map(move |value| value * decade));
        let bought = values.filter(|ohm| (self.least_ohm()..=most).contains(ohm)).max();
        bought.or((self.least_ohm() <= most).then_some(most))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::ideal::rig;

    /// A line of so many metres at 50 pF/m, with long-line timing.
    fn pull_ups(metres: u32, sensors: u8) -> PullUps {
        let mut rig = rig(sensors);
        rig.timing = TimingSet::LongLine;
        let line = VirtualLine { cable_mm: metres * 1000, ..rig.virtual_line().unwrap().clone() };
        PullUps::of(&rig, &line)
    }

    #[test]
    fn a_short_line_takes_the_usual_resistor() {
        let short = pull_ups(1, 3);
        // (3.3 - 0.4) V / 4 mA.
        assert_eq!((short.picofarad, short.least_ohm(), short.advised_ohm()), (125, 725, Some(4_700)));
    }

    #[test]
    fn a_longer_line_takes_a_stronger_one_until_none_is_left() {
        let mut before = u64::MAX;
        for metres in [20, 50, 100, 200, 250] {
            let line = pull_ups(metres, 8);
            let (most, advised) = (line.most_ohm(), line.advised_ohm().unwrap());
            // Never more than the rise of an unloaded line allows: 1.2 time constants.
            let unloaded = u64::from(line.rise_ns) * 10_000 / (12 * line.picofarad);
            assert!(most <= unloaded && most > unloaded * 6 / 10, "{metres} m: {most} of {unloaded}");
            assert!(advised <= most && advised >= 725 && most < before, "{metres} m: {advised} of {most}");
            before = most;
        }
        for metres in [500, 2_000] {
            assert_eq!(pull_ups(metres, 8).advised_ohm(), None, "{metres} m");
        }
    }

    #[test]
    fn many_sensors_take_a_stronger_one() {
        let many = pull_ups(0, 100);
        // 30 % of 3.3 V over 500 uA is 1.98 kohm.
        assert!(many.is_overloaded_by(1_980) && !many.is_overloaded_by(1_979));
        assert!(many.most_ohm() < 1_980);
    }
}
