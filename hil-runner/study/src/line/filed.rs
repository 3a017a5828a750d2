//! What the file of a rig says of its line, whatever kind of rig it is.

use slotwise::thermometer::{Family, Supply};

use super::figures::{MASTER_PF, RECOVERY_DS28EA00_US, RECOVERY_US, USUAL_PF_PER_M};
use super::numbers::{Numbers, StrongPullUp};
use super::pull_up::PullUpSource;
use super::slots::SlotTiming;
use slotwise_rig::{Rig, RigKind, VirtualLine};

/// What the file of a rig says of its line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Filed {
    /// Supply of pull-up and sensors.
    pub supply_v: Option<f64>,
    /// The pull-up. None as well where the file says that there is none.
    pub pull_up_ohm: Option<f64>,
    /// Whether the file states it, or states that there is none.
    pub pull_up: PullUpSource,
    /// Length of all cable together.
    pub cable_m: Option<f64>,
    /// Capacitance of a metre of it.
    pub pf_per_m: Option<f64>,
    /// How many sensors are on the line.
    pub sensors: u32,
    /// How many of them are on parasite power.
    pub parasites: u32,
    /// The strong pull-up.
    pub strong_pull_up: StrongPullUp,
    /// How the bus master makes its slots.
    pub timing: SlotTiming,
    /// tREC that the sensors ask for.
    pub recovery_us: f64,
}

impl Filed {
    /// What this file says.
    #[must_use]
    pub fn of(rig: &Rig) -> Self {
        let line = rig.virtual_line();
        let on_line = || rig.inventory.iter().filter(|sensor| sensor.behaviour.connected);
        // A twin is a sensor of its own in all but its ROM code.
        let count = |is_counted: fn(Supply) -> bool| {
            let counted = on_line().filter(|sensor| is_counted(sensor.supply));
            counted.map(|sensor| 1 + u32::from(sensor.behaviour.twin.is_some())).sum()
        };
        Self {
            supply_v: line.map(|line| f64::from(line.supply_mv) / 1e3),
            pull_up_ohm: line.and_then(|line| line.pull_up_ohm).map(f64::from),
            pull_up: match line.map(|line| line.pull_up_ohm) {
                Some(Some(_)) => PullUpSource::Stated,
                Some(None) => PullUpSource::Missing,
                None => PullUpSource::Unsaid,
            },
            cable_m: line.map(|line| f64::from(line.cable_mm) / 1e3),
            pf_per_m: line.map(|line| f64::from(line.cable_pf_per_m)),
            sensors: count(|_| true),
            parasites: count(|supply| supply == Supply::Parasite),
            strong_pull_up: match &rig.kind {
                RigKind::Virtual(line) | RigKind::Emulated(line) => {
                    line.strong_pull_up_ohm.map_or(StrongPullUp::None, |ohm| StrongPullUp::Ohm(ohm.into()))
                }
                RigKind::Bridge(bridge) => StrongPullUp::unsaid_if(bridge.strong_pull_up),
                RigKind::Serial(serial) => StrongPullUp::unsaid_if(serial.strong_pull_up.is_some()),
            },
            timing: SlotTiming::of_rig(rig),
            recovery_us: recovery_us(on_line().map(|sensor| sensor.part)),
        }
    }

    /// The same as numbers, with what a file need not say.
    #[must_use]
    pub fn numbers(&self, supply_v: f64, pull_up_ohm: f64, cable_m: f64) -> Numbers {
        let pf_per_m = self.pf_per_m.unwrap_or(USUAL_PF_PER_M);
        Numbers {
            cable_pf: cable_m * pf_per_m + MASTER_PF,
            pf_per_m,
            parasites: self.parasites,
            strong_pull_up: self.strong_pull_up,
            timing: self.timing,
            recovery_us: self.recovery_us,
            ..Numbers::plan(supply_v, pull_up_ohm, cable_m, self.sensors)
        }
    }

    /// How many of so many sensors are on parasite power, if it is for another number than the file's. Sensors that the file does not
    /// have are taken to be on it if anybody is.
    #[must_use]
    pub fn parasites_among(&self, sensors: u32) -> u32 {
        let local = self.sensors - self.parasites;
        if self.parasites == 0 { 0 } else { sensors.saturating_sub(local).max(1) }
    }
}

/// tREC that these parts ask for.
pub(super) fn recovery_us(parts: impl IntoIterator<Item = Family>) -> f64 {
    let of = |part| if part == Family::Ds28ea00 { RECOVERY_DS28EA00_US } else { RECOVERY_US };
    parts.into_iter().map(of).fold(RECOVERY_US, f64::max)
}

impl Numbers {
    /// The line of a rig in virtual time, as its file has it. None for a real one, and for one without a pull-up.
    #[must_use]
    pub fn of_rig(rig: &Rig) -> Option<Self> {
        let line = rig.virtual_line()?;
        Some(Self::of_line(rig, line, line.pull_up_ohm?))
    }

    /// The line of a rig in virtual time, with this pull-up.
    #[must_use]
    pub fn of_line(rig: &Rig, line: &VirtualLine, pull_up_ohm: u32) -> Self {
        let volts = f64::from(line.supply_mv) / 1e3;
        Filed::of(rig).numbers(volts, pull_up_ohm.into(), f64::from(line.cable_mm) / 1e3)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use slotwise_bench::ideal::rig;
    use slotwise_rig::{BridgeRig, ModemLine, ReferenceSource, RigCarrier, SerialRig, Twin};

    #[test]
    fn every_kind_of_rig_tells_its_sensors_and_its_slots() {
        let mut filled = rig(3);
        (filled.inventory[0].supply, filled.inventory[1].part) = (Supply::Parasite, Family::Ds28ea00);
        let of = |kind: RigKind| Filed::of(&Rig { kind, ..filled.clone() });
        let bridge = |strong_pull_up| {
            RigKind::Bridge(BridgeRig {
                chip: "STM32F103C8".into(),
                carrier: RigCarrier::Serial { port: "/dev/null".into() },
                image: None,
                strong_pull_up,
                supply_switch: false,
                short_switch: false,
                reference: ReferenceSource::None,
            })
        };
        let serial = |strong_pull_up| {
            let (port, reference) = ("/dev/null".into(), ReferenceSource::None);
            RigKind::Serial(SerialRig { port, strong_pull_up, reference })
        };
        for (kind, strong_pull_up, timing) in [
            (filled.kind.clone(), StrongPullUp::None, SlotTiming::ShortLine),
            (bridge(false), StrongPullUp::None, SlotTiming::ShortLine),
            (bridge(true), StrongPullUp::Unsaid, SlotTiming::ShortLine),
            (serial(None), StrongPullUp::None, SlotTiming::Uart),
            (serial(Some(ModemLine::Rts)), StrongPullUp::Unsaid, SlotTiming::Uart),
        ] {
            let filed = of(kind);
            assert_eq!((filed.sensors, filed.parasites, filed.recovery_us), (3, 1, RECOVERY_DS28EA00_US));
            assert_eq!((filed.strong_pull_up, filed.timing), (strong_pull_up, timing));
        }
        assert_eq!((of(serial(None)).supply_v, of(bridge(false)).cable_m), (None, None));
        assert_eq!(of(serial(None)).pull_up, PullUpSource::Unsaid);
    }

    #[test]
    fn a_file_without_a_pull_up_tells_all_the_rest() {
        let mut bare = rig(3);
        (bare.inventory[1].behaviour.connected, bare.inventory[2].behaviour.twin) =
            (false, Some(Twin { ambient_millicelsius: None }));
        let RigKind::Virtual(line) = &mut bare.kind else { panic!("a virtual rig") };
        (line.pull_up_ohm, line.strong_pull_up_ohm, line.cable_mm) = (None, Some(20), 7_000);
        let filed = Filed::of(&bare);
        assert_eq!((filed.pull_up_ohm, filed.cable_m, filed.sensors), (None, Some(7.0), 3));
        assert_eq!((filed.pull_up, Filed::of(&rig(3)).pull_up), (PullUpSource::Missing, PullUpSource::Stated));
        assert_eq!(filed.strong_pull_up, StrongPullUp::Ohm(20.0));
        assert_eq!(Numbers::of_rig(&bare), None);
    }

    /// Of four sensors three are on parasite power: of ten nine are taken to be, of one it is that one.
    #[test]
    fn other_numbers_of_sensors_keep_the_power() {
        let mut four = rig(4);
        four.inventory[1..].iter_mut().for_each(|sensor| sensor.supply = Supply::Parasite);
        let filed = Filed::of(&four);
        assert_eq!([4, 10, 1].map(|sensors| filed.parasites_among(sensors)), [3, 9, 1]);
        assert_eq!(Filed::of(&rig(4)).parasites_among(10), 0);
    }
}
