//! From the rise of a line to its RC product, its capacitance and the length of its cable: estimates, with their bounds.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use super::circuit::time_constants;
use super::figures::{INPUT_PF, INPUT_UA, THRESHOLD_LEAST_SHARE, THRESHOLD_SHARE};
use slotwise_rig::reply::SpreadRecord;
use slotwise_terms::units::{ohms, three};

/// What is known of the master's input threshold.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Threshold {
    /// It is this share of the supply, by the command.
    #[serde(rename = "told")]
    Stated(f64),
    /// Not stated: 70 % is taken, and the bounds allow for 50 %.
    Assumed,
}

impl Threshold {
    /// The share of the supply to compute with.
    #[must_use]
    pub const fn share(self) -> f64 {
        match self {
            Self::Stated(share) => share,
            Self::Assumed => THRESHOLD_SHARE,
        }
    }

    /// The least that it may be.
    const fn least_share(self) -> f64 {
        match self {
            Self::Stated(share) => share,
            Self::Assumed => THRESHOLD_LEAST_SHARE,
        }
    }
}

/// A number that was computed from a measurement, and between which it lies.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Estimate {
    /// The best guess.
    pub best: f64,
    /// The lower bound.
    pub least: f64,
    /// The upper bound.
    pub most: f64,
    /// How the best guess is computed, with the numbers put in.
    pub formula: String,
}

/// What follows from the rise.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Estimates {
    /// The RC product, in microseconds.
    pub rc_us: Estimate,
    /// The capacitance of the whole line, in picofarads. None: the pull-up is not stated.
    pub picofarad: Option<Estimate>,
    /// The length of the cable, in metres. None as above.
    pub cable_m: Option<Estimate>,
}

/// What the rise is held against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct KnownCircuit {
    pub(super) threshold: Threshold,
    pub(super) supply_v: Option<f64>,
    pub(super) pull_up_ohm: Option<f64>,
    pub(super) sensors: u32,
    pub(super) pf_per_m: f64,
}

impl Estimates {
    /// What a rise with this grain says. None: the line would never get to that threshold.
    pub(super) fn of(rise_ns: SpreadRecord, grain_ns: u32, known: KnownCircuit) -> Option<Self> {
        let sensors = f64::from(known.sensors);
        // What sensors draw lowers the end of the rise, as a share of the supply; without the numbers it is left out.
        let drop = known.supply_v.zip(known.pull_up_ohm).map_or(0.0, |(v, ohm)| sensors * INPUT_UA * 1e-6 * ohm / v);
        let (share, idle) = (known.threshold.share(), 1.0 - drop);
        let (number, fewest) = (time_constants(idle, share)?, time_constants(idle, known.threshold.least_share())?);
        let us = |ns: f64| ns / 1e3;
        let (least_ns, most_ns, grain_ns) = (f64::from(rise_ns.least), f64::from(rise_ns.most), f64::from(grain_ns));
        let middle_us = us((least_ns + most_ns) / 2.0);
        let rc_us = Estimate {
            best: middle_us / number,
            least: us((least_ns - grain_ns).max(0.0)) / number,
            most: us(most_ns + grain_ns) / fewest,
            formula: format!("{} us / ln({idle} / ({idle} - {}))", three(middle_us), three(share), idle = three(idle)),
        };
        let picofarad = known.pull_up_ohm.map(|ohm| {
            let of = |rc_us: f64| rc_us / (ohm * 1e-6);
            let formula = format!("{} us / {}", three(rc_us.best), ohms(ohm));
            Estimate { best: of(rc_us.best), least: of(rc_us.least), most: of(rc_us.most), formula }
        });
        let cable_m = picofarad.as_ref().map(|picofarad| {
            let inputs_pf = INPUT_PF * sensors;
            let of = |pf: f64| pf.max(0.0) / known.pf_per_m;
            Estimate {
                best: of(picofarad.best - inputs_pf),
                // A sensor's input is 25 pF at most; how little it may be, no datasheet says.
                least: of(picofarad.least - inputs_pf),
                most: of(picofarad.most),
                formula: format!(
                    "({} pF - {} x {} pF) / {} pF/m",
                    three(picofarad.best),
                    known.sensors,
                    three(INPUT_PF),
                    three(known.pf_per_m)
                ),
            }
        });
        Some(Self { rc_us, picofarad, cable_m })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KNOWN: KnownCircuit = KnownCircuit {
        threshold: Threshold::Stated(0.5),
        supply_v: None,
        pull_up_ohm: Some(4_700.0),
        sensors: 4,
        pf_per_m: 50.0,
    };

    /// Half of the supply is reached after ln 2 = 0.6931 time constants: 3.258 us are 4.7 us, which are 1000 pF at 4.7 kohm; less
    /// 4 x 25 pF they are 18 m.
    #[test]
    fn a_rise_becomes_a_length() {
        let rise = SpreadRecord { least: 3_258, most: 3_258 };
        let found = Estimates::of(rise, 0, KNOWN).unwrap();
        let (picofarad, cable_m) = (found.picofarad.unwrap(), found.cable_m.unwrap());
        assert!((found.rc_us.best - 4.7).abs() < 1e-3 && (picofarad.best - 1_000.0).abs() < 0.2);
        assert!((cable_m.best - 18.0).abs() < 0.01 && (cable_m.most - 20.0).abs() < 0.01, "{cable_m:?}");
        assert_eq!(cable_m.formula, "(1000 pF - 4 x 25 pF) / 50 pF/m");
    }

    #[test]
    fn what_is_not_stated_widens_the_bounds_or_is_left_out() {
        let rise = SpreadRecord { least: 3_200, most: 3_300 };
        let stated =
            Estimates::of(rise, 200, KnownCircuit { threshold: Threshold::Stated(0.7), ..KNOWN }).unwrap().rc_us;
        // ln(1 / 0.3) = 1.204: 3.25 us, 3.0 us and 3.5 us are 2.699 us, 2.492 us and 2.907 us.
        assert!(
            (stated.best - 2.699).abs() < 1e-3
                && (stated.least - 2.492).abs() < 1e-3
                && (stated.most - 2.907).abs() < 1e-3
        );
        let known = KnownCircuit { threshold: Threshold::Assumed, pull_up_ohm: None, ..KNOWN };
        let found = Estimates::of(rise, 200, known).unwrap();
        // At 50 % it would be 3.5 us / ln 2 = 5.049 us.
        assert!(found.rc_us.best == stated.best && (found.rc_us.most - 5.049).abs() < 1e-3, "{found:?}");
        assert_eq!((found.picofarad, found.cable_m), (None, None));
    }

    /// 100 sensors x 5 uA x 2 kohm = 1 V of 3.3 V: the line ends at 69.7 % of the supply.
    #[test]
    fn a_line_that_never_gets_there_has_no_product() {
        let known = KnownCircuit {
            threshold: Threshold::Assumed,
            supply_v: Some(3.3),
            pull_up_ohm: Some(2_000.0),
            sensors: 100,
            ..KNOWN
        };
        assert_eq!(Estimates::of(SpreadRecord { least: 1, most: 1 }, 0, known), None);
    }
}
