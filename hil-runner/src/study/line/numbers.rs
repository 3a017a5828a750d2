//! What a line is in numbers: as planned, or as told and measured.

use schemars::JsonSchema;
use serde::Serialize;
use slotwise::line::Timing;
use slotwise::thermometer::{Family, Supply};

use super::circuit::Circuit;
use super::figures::{
    HIGH_LOCAL_V, HIGH_PARASITE_V, INPUT_PF, INPUT_UA, MASTER_PF, RECOVERY_DS28EA00_US, RECOVERY_US, THRESHOLD_SHARE,
    USUAL_PF_PER_M,
};
use super::margin::{LineParameter, is_kept};
use super::margins::value;
use crate::record::notation;
use crate::rig::{Rig, TimingSet, VirtualLine};

/// A line in numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Numbers {
    /// Supply of pull-up and sensors.
    pub supply_v: f64,
    /// The pull-up.
    pub pull_up_ohm: f64,
    /// Capacitance of everything but the sensors: cable, master, board.
    pub cable_pf: f64,
    /// Capacitance of a metre of cable.
    pub pf_per_m: f64,
    /// How many sensors.
    pub sensors: u32,
    /// Parasite, if one of them is.
    #[schemars(with = "notation::SupplyForm")]
    pub power: Supply,
    /// Resistance of the switch that ties the line to the supply while sensors on parasite power work; none if there is none.
    pub strong_pull_up_ohm: Option<f64>,
    /// Where the master's input sees a rising line as high.
    pub threshold_v: f64,
    /// Timing set of the driver.
    pub timing: TimingSet,
    /// tREC that the sensors ask for.
    pub recovery_us: f64,
}

impl Numbers {
    /// A plan: cable and sensors at their longest and largest, a sensor with a supply wire, the short line's timing.
    #[must_use]
    pub fn plan(supply_v: f64, pull_up_ohm: f64, cable_m: f64, sensors: u32) -> Self {
        Self {
            supply_v,
            pull_up_ohm,
            cable_pf: cable_m * USUAL_PF_PER_M + MASTER_PF,
            pf_per_m: USUAL_PF_PER_M,
            sensors,
            power: Supply::Local,
            strong_pull_up_ohm: None,
            threshold_v: supply_v * THRESHOLD_SHARE,
            timing: TimingSet::Recommended,
            recovery_us: RECOVERY_US,
        }
    }

    /// What the line does.
    #[must_use]
    pub fn circuit(&self) -> Circuit {
        let sensors = f64::from(self.sensors);
        Circuit {
            supply_v: self.supply_v,
            pull_up_ohm: self.pull_up_ohm,
            picofarad: self.cable_pf + INPUT_PF * sensors,
            load_ua: INPUT_UA * sensors,
        }
    }

    /// Where a sensor sees the line as high, at the latest.
    #[must_use]
    pub const fn high_v(&self) -> f64 {
        match self.power {
            Supply::Local => HIGH_LOCAL_V,
            Supply::Parasite => HIGH_PARASITE_V,
        }
    }

    /// Pull-up and strong pull-up together while sensors work.
    #[must_use]
    pub fn working_ohm(&self) -> f64 {
        self.strong_pull_up_ohm
            .map_or(self.pull_up_ohm, |strong_ohm| self.pull_up_ohm * strong_ohm / (self.pull_up_ohm + strong_ohm))
    }

    /// Whether a limit is kept that numbers tell of.
    #[must_use]
    pub fn keeps(&self, parameter: LineParameter) -> bool {
        value(parameter, self).is_some_and(is_kept)
    }

    /// When the driver makes its edges.
    #[must_use]
    pub const fn driver_timing(&self) -> Timing {
        driver_timing(self.timing)
    }
}

/// The timing set of this name.
#[must_use]
pub const fn driver_timing(set: TimingSet) -> Timing {
    match set {
        TimingSet::Recommended => Timing::RECOMMENDED,
        TimingSet::LongLine => Timing::LONG_LINE,
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
        let (supply_v, pf_per_m) = (f64::from(line.supply_mv) / 1e3, f64::from(line.cable_pf_per_m));
        let on_line = rig.inventory.iter().filter(|sensor| sensor.behaviour.connected);
        let twins = on_line.clone().filter(|sensor| sensor.behaviour.twin.is_some()).count();
        let is_parasite = on_line.clone().any(|sensor| sensor.supply == Supply::Parasite);
        let plan = Self::plan(supply_v, f64::from(pull_up_ohm), 0.0, 0);
        Self {
            cable_pf: f64::from(line.cable_mm) / 1e3 * pf_per_m + MASTER_PF,
            pf_per_m,
            sensors: u32::try_from(on_line.clone().count() + twins).unwrap_or(u32::MAX),
            power: if is_parasite { Supply::Parasite } else { Supply::Local },
            strong_pull_up_ohm: line.strong_pull_up_ohm.map(f64::from),
            timing: rig.timing,
            recovery_us: recovery_us(on_line.map(|sensor| sensor.part)),
            ..plan
        }
    }
}
