//! What a line is in numbers: as planned, or as stated and measured.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::Supply;

use super::circuit::Circuit;
use super::figures::{
    HIGH_LOCAL_V, HIGH_PARASITE_V, INPUT_PF, INPUT_UA, LOOP_OHM_PER_M, MASTER_PF, RECOVERY_US, THRESHOLD_SHARE,
    USUAL_PF_PER_M,
};
use super::margin::{LineParameter, is_kept};
use super::margins::{applies, value};
use super::slots::{SlotTimes, SlotTiming};

/// What is known of the switch that ties the line to the supply while sensors on parasite power work.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum StrongPullUp {
    /// There is none.
    None,
    /// There is one of so many ohms.
    Ohm(f64),
    /// There is one, of a resistance that is not stated.
    Unsaid,
}

impl StrongPullUp {
    /// That of a rig whose file says no more than whether there is one.
    pub(super) const fn unsaid_if(is_there: bool) -> Self {
        if is_there { Self::Unsaid } else { Self::None }
    }
}

/// A line in numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
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
    /// How many of them are on parasite power.
    pub parasites: u32,
    /// The strong pull-up.
    pub strong_pull_up: StrongPullUp,
    /// Where the master's input sees a rising line as high.
    pub threshold_v: f64,
    /// How the bus master makes its slots.
    pub timing: SlotTiming,
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
            parasites: 0,
            strong_pull_up: StrongPullUp::None,
            threshold_v: supply_v * THRESHOLD_SHARE,
            timing: SlotTiming::ShortLine,
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

    /// How the line as a whole is powered: on parasite power if one of its sensors is.
    #[must_use]
    pub const fn power(&self) -> Supply {
        if self.parasites > 0 { Supply::Parasite } else { Supply::Local }
    }

    /// Where a sensor sees the line as high, at the latest.
    #[must_use]
    pub const fn high_v(&self) -> f64 {
        match self.power() {
            Supply::Local => HIGH_LOCAL_V,
            Supply::Parasite => HIGH_PARASITE_V,
        }
    }

    /// Length of the cable, as far as its capacitance gives it.
    #[must_use]
    pub fn cable_m(&self) -> f64 {
        if self.pf_per_m > 0.0 { (self.cable_pf - MASTER_PF).max(0.0) / self.pf_per_m } else { 0.0 }
    }

    /// Resistance of both wires of the cable, from end to end.
    #[must_use]
    pub fn loop_ohm(&self) -> f64 {
        self.cable_m() * LOOP_OHM_PER_M
    }

    /// Pull-up and strong pull-up together while sensors work.
    #[must_use]
    pub fn working_ohm(&self) -> f64 {
        match self.strong_pull_up {
            StrongPullUp::Ohm(strong_ohm) => self.pull_up_ohm * strong_ohm / (self.pull_up_ohm + strong_ohm),
            StrongPullUp::None | StrongPullUp::Unsaid => self.pull_up_ohm,
        }
    }

    /// Whether a limit is kept by the numbers. One that means nothing on such a line is.
    #[must_use]
    pub fn keeps(&self, parameter: LineParameter) -> bool {
        !applies(parameter, self) || value(parameter, self).is_some_and(is_kept)
    }

    /// Whether sensors on parasite power have what they need to work, as far as the numbers decide it: none of them needs anything.
    #[must_use]
    pub fn powers_parasites(&self) -> bool {
        let has_switch = self.parasites == 0 || self.strong_pull_up != StrongPullUp::None;
        has_switch && self.keeps(LineParameter::ParasitePower)
    }

    /// Whether a plan of these numbers is sound.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.powers_parasites() && LineParameter::COMPUTED.into_iter().all(|parameter| self.keeps(parameter))
    }

    /// When the bus master makes its edges.
    #[must_use]
    pub fn times(&self) -> SlotTimes {
        self.timing.times()
    }
}
