//! Plans against examples computed by hand, and rules that hold for every line.

use proptest::prelude::*;
use slotwise::line::Timing;
use slotwise::thermometer::Supply;

use super::advice::LineAdvice;
use super::circuit::{Circuit, picofarads_within};
use super::figures::MASTER_PF;
use super::margin::{LineParameter, Margin, is_kept};
use super::margins::{computed, value};
use super::numbers::Numbers;
use crate::rig::TimingSet;

/// A plan whose cable makes the whole line so many picofarads.
fn of_picofarads(supply_v: f64, pull_up_ohm: f64, picofarad: f64, sensors: u32) -> Numbers {
    let plan = Numbers::plan(supply_v, pull_up_ohm, 0.0, sensors);
    Numbers { cable_pf: picofarad - 25.0 * f64::from(sensors), ..plan }
}

fn long(numbers: Numbers) -> Numbers {
    Numbers { timing: TimingSet::LongLine, ..numbers }
}

#[track_caller]
fn near(found: Option<f64>, by_hand: f64, within: f64) {
    assert!(found.is_some_and(|found| (found - by_hand).abs() <= within), "{found:?}, by hand {by_hand}");
}

/// Sizing as application notes do it (common practice): low for 6 us, sample at 15 us, so 9 us to VIH of 2.2 V. C = 9 us / (R
/// ln(V / (V - 2.2 V))). At 3.3 V ln(3.3 / 1.1) = ln 3 = 1.0986; at 5 V ln(5 / 2.8) = 0.57982: 9 / (4700 x 1.0986) = 1743 pF,
/// 35 m at 50 pF/m; 9 / (4700 x 0.57982) = 3303 pF, 66 m; and so on.
#[test]
fn capacitance_that_still_gets_there_is_as_by_hand() {
    for (ohm, supply_v, picofarad, metres) in [
        (4_700.0, 3.3, 1_743.0, 35.0),
        (4_700.0, 5.0, 3_303.0, 66.0),
        (2_200.0, 3.3, 3_724.0, 74.0),
        (2_200.0, 5.0, 7_055.0, 141.0),
        (1_500.0, 3.3, 5_461.0, 109.0),
        (1_000.0, 3.3, 8_192.0, 164.0),
    ] {
        let found = picofarads_within(9.0, supply_v, ohm, 2.2);
        near(found, picofarad, 0.5);
        near(found.map(|picofarad| (picofarad / 50.0).round()), metres, 0.0);
    }
    assert_eq!(picofarads_within(9.0, 2.2, 4_700.0, 2.2), None);
}

/// The floor: (V - 0.4 V) / 4 mA: 2.9 / 4 = 725 ohm, 4.6 / 4 = 1150 ohm, 5.1 / 4 = 1275 ohm (DS18B20 datasheet (7/19), DC
/// table, IL). 5 % below 820 ohm, 1.3 kohm and 1.5 kohm are 779, 1235 and 1425 ohm; below the values before them 712.5, 1140
/// and 1235 ohm.
#[test]
fn the_floor_of_the_pull_up_is_as_by_hand() {
    for (supply_v, floor_ohm, first) in [(3.3, 725.0, 820), (5.0, 1_150.0, 1_300), (5.5, 1_275.0, 1_500)] {
        let advice = LineAdvice::of(&long(Numbers::plan(supply_v, 4_700.0, 5.0, 4))).pull_up;
        near(Some(advice.floor_ohm), floor_ohm, 1e-6);
        assert_eq!(advice.fitting_ohm.first(), Some(&first));
        let low = |ohm: f64| value(LineParameter::LowLevel, &Numbers::plan(supply_v, ohm, 5.0, 4)).unwrap();
        assert!(is_kept(low(floor_ohm)) && !is_kept(low(floor_ohm - 1.0)));
    }
    // 4.7 kohm at 3.3 V: 2.9 V / 4.7 kohm = 0.617 mA, 3.383 mA less than 4 mA.
    near(value(LineParameter::LowLevel, &Numbers::plan(3.3, 4_700.0, 5.0, 4)), 3.383, 5e-4);
}

/// 1000 pF in all at 3.3 V, 4.7 kohm, no sensor that draws: RC = 4.7 us. To 2.2 V: 4.7 x 1.09861 = 5.1635 us; to 70 %: 4.7 x
/// ln(1 / 0.3) = 4.7 x 1.20397 = 5.6587 us. With the recommended set (sample 13 us, low 3 us, check 9.5 us, slot 64 us, write-0
/// 61 us, reset 480 us; its own documentation): read 13 - 3 - 5.1635 = 4.8365; check 9.5 - 5.6587 = 3.8413; recovery 64 - 61 -
/// 5.1635 - 1 = -3.1635; presence 480 - (5.1635 + 60 + 240 + 5.6587) = 169.178; tRDV 15 - 13 = 2;
/// written 1 15 - 3 - 5.1635 = 6.8365.
#[test]
fn every_margin_of_a_line_without_load_is_as_by_hand() {
    let numbers = of_picofarads(3.3, 4_700.0, 1_000.0, 0);
    for (parameter, by_hand) in [
        (LineParameter::IdleLevel, 3.3 - 2.31),
        (LineParameter::RiseCheck, 3.8413),
        (LineParameter::ReadSample, 4.8365),
        (LineParameter::ReadValid, 2.0),
        (LineParameter::WriteOne, 6.8365),
        (LineParameter::Recovery, -3.1635),
        (LineParameter::Presence, 169.178),
    ] {
        near(value(parameter, &numbers), by_hand, 1e-3);
    }
    let broken: Vec<LineParameter> =
        computed(&numbers).iter().filter(|margin| !margin.is_kept()).map(|margin| margin.parameter).collect();
    assert_eq!(broken, [LineParameter::Recovery]);
    // The long-line set: sample 14 us, low 2 us, check 11.5 us, slot 90 us, write-0 65 us.
    near(value(LineParameter::ReadSample, &long(numbers)), 14.0 - 2.0 - 5.1635, 1e-3);
    near(value(LineParameter::RiseCheck, &long(numbers)), 11.5 - 5.6587, 1e-3);
    near(value(LineParameter::Recovery, &long(numbers)), 90.0 - 65.0 - 5.1635 - 1.0, 1e-3);
}

/// 20 sensors draw 20 x 5 uA = 100 uA, which are 0.47 V in 4.7 kohm: the line ends at 2.83 V, 0.52 V over 2.31 V. A rise to 2.2
/// V on 30 m (1510 pF with the master, 500 pF of sensors: RC = 9.447 us) takes 9.447 x ln(2.83 / 0.63) = 9.447 x 1.5023 =
/// 14.192 us, later than 10 us. By the current alone: (3.3 - 2.31) V / 100 uA = 9.9 kohm.
#[test]
fn what_sensors_draw_counts() {
    let numbers = Numbers::plan(3.3, 4_700.0, 30.0, 20);
    let circuit = numbers.circuit();
    near(Some(circuit.idle_v()), 2.83, 1e-9);
    near(Some(circuit.time_constant_us()), 9.447, 1e-9);
    near(circuit.rise_us(2.2), 14.192, 2e-3);
    near(value(LineParameter::IdleLevel, &numbers), 0.52, 1e-9);
    near(value(LineParameter::ReadSample, &numbers), 10.0 - 14.192, 2e-3);
    near(LineAdvice::of(&numbers).pull_up.ceiling_by_current_ohm, 9_900.0, 1e-3);
    // 100 sensors leave 0.95 V: the line never gets there.
    let crowded = Numbers::plan(3.3, 4_700.0, 30.0, 100);
    let margins = computed(&crowded);
    let rise = margins.iter().find(|margin| margin.parameter == LineParameter::RiseCheck).unwrap();
    assert!(rise.margin.is_none() && !rise.is_kept() && rise.formula.contains("ends at 0.95 V"), "{rise:?}");
}

/// One sensor converts with 1.5 mA: 7.05 V in 4.7 kohm, more than there is. What is left of 3.3 V is 0.3 V: 0.3 V / 1.5 mA =
/// 200 ohm carry one; with 10 ohm beside 4.7 kohm, 9.979 ohm, it is 0.3 / (1.5 mA x 9.979) = 20.04. At 5 V 2 V are left: 1333
/// ohm for one.
#[test]
fn parasite_power_is_as_by_hand() {
    let parasite = |supply_v, ohm, strong: Option<f64>| Numbers {
        power: Supply::Parasite,
        strong_pull_up_ohm: strong,
        ..long(Numbers::plan(supply_v, ohm, 5.0, 4))
    };
    near(value(LineParameter::ParasitePower, &parasite(3.3, 4_700.0, None)), 3.3 - 7.05 - 3.0, 1e-9);
    near(value(LineParameter::ParasitePower, &parasite(3.3, 4_700.0, Some(10.0))), 0.3 - 1.5e-3 * 9.978_77, 1e-6);
    let carried = |supply_v, ohm, strong| {
        let advice = LineAdvice::of(&parasite(supply_v, ohm, strong)).parasite;
        (advice.by_resistor, advice.by_strong_pull_up)
    };
    assert_eq!(carried(3.3, 4_700.0, Some(10.0)), (0, Some(20)));
    assert_eq!((carried(3.3, 200.0, None), carried(3.3, 201.0, None)), ((1, None), (0, None)));
    assert_eq!((carried(5.0, 1_333.0, None), carried(5.0, 1_334.0, None)), ((1, None), (0, None)));
    // A sensor on parasite power wants 3.0 V for high: ln(3.3 / 0.3) = 2.3979 time constants, without load.
    let numbers = Numbers { power: Supply::Parasite, ..of_picofarads(3.3, 4_700.0, 500.0, 0) };
    near(value(LineParameter::ReadSample, &numbers), 10.0 - 2.35 * 2.3979, 1e-3);
    assert!(computed(&numbers).iter().any(|margin| margin.parameter == LineParameter::ParasitePower));
}

/// What the driver's documentation says of its sets at 3.3 V: the recommended one is good for an RC product of 1.8 us, the
/// long-line one for 9.4 us; on parasite power 0.8 us and 5.2 us. The latter two it found on the virtual line with more at its
/// worst, so that here they must be allowed, and not by a wide margin.
#[test]
fn limits_agree_with_what_the_driver_says_of_its_timing_sets() {
    let most_us = |set: TimingSet, power: Supply| {
        let numbers = Numbers { timing: set, power, ..of_picofarads(3.3, 1_000.0, 100.0, 0) };
        LineAdvice::of(&numbers).room[0].most_pf / 1_000.0
    };
    assert!((most_us(TimingSet::Recommended, Supply::Local) - 1.8).abs() < 0.05);
    assert!((most_us(TimingSet::Recommended, Supply::Parasite) - 0.8).abs() < 0.05);
    let (local, parasite) =
        (most_us(TimingSet::LongLine, Supply::Local), most_us(TimingSet::LongLine, Supply::Parasite));
    assert!((9.4..9.7).contains(&local), "{local}");
    assert!((4.9..5.3).contains(&parasite), "{parasite}");
}

/// The long-line set at 3.3 V and 4.7 kohm without load: 11.5 us / (4700 x 1.20397) = 2032 pF for the check, less 10 pF of the
/// master 40.4 m of cable at 50 pF/m: 30 m leave 10.4 m.
#[test]
fn room_for_cable_is_as_by_hand() {
    let advice = LineAdvice::of(&long(Numbers::plan(3.3, 4_700.0, 30.0, 0)));
    assert_eq!(advice.room[0].parameter, LineParameter::RiseCheck);
    near(Some(advice.room[0].most_pf), 2_032.3, 0.5);
    near(advice.cable_more_m, 10.45, 0.05);
    // 4.7 kohm x 1510 pF is what it is; the largest that does is 11.5 us / (1510 pF x 1.20397) = 6326 ohm; in the series
    // 5.6 kohm, which may be 5.88 kohm.
    near(advice.pull_up.ceiling_ohm, 6_326.0, 1.0);
    assert_eq!((advice.pull_up.fitting_ohm.last(), advice.pull_up.use_ohm), (Some(&5_600), Some(4_700)));
    // A line far too long: no resistor that a sensor can sink is small enough.
    let hopeless = LineAdvice::of(&Numbers::plan(5.0, 4_700.0, 1_000.0, 8));
    assert_eq!((hopeless.pull_up.use_ohm, hopeless.pull_up.fitting_ohm.len()), (None, 0));
    assert!(hopeless.cable_more_m.unwrap() < 0.0 && hopeless.sensors_more.is_none());
}

/// The planner has no times of its own: another set in the driver is another plan.
#[test]
fn times_are_those_of_the_driver() {
    let numbers = Numbers::plan(3.3, 4_700.0, 1.0, 1);
    for (set, timing) in [(TimingSet::Recommended, Timing::RECOMMENDED), (TimingSet::LongLine, Timing::LONG_LINE)] {
        let valid = value(LineParameter::ReadValid, &Numbers { timing: set, ..numbers });
        near(valid, 15.0 - f64::from(timing.sample_ns) / 1e3, 1e-9);
    }
}

#[test]
fn the_master_counts_as_cable() {
    near(Some(Numbers::plan(3.3, 4_700.0, 20.0, 3).circuit().picofarad), 20.0 * 50.0 + 3.0 * 25.0 + MASTER_PF, 1e-9);
}

/// Whether no margin rose from the one to the other.
fn none_rises(before: &[Margin], after: &[Margin]) -> bool {
    before.len() == after.len()
        && before.iter().zip(after).all(|(before, after)| match (before.margin, after.margin) {
            (Some(before), Some(after)) => after <= before + 1e-9,
            (None, Some(_)) => false,
            (_, None) => true,
        })
}

fn any_numbers() -> impl Strategy<Value = Numbers> {
    let electrical = (3.0..5.5_f64, 100.0..50_000.0_f64, 0.0..500.0_f64, 0..200_u32);
    let others = (any::<bool>(), any::<bool>(), proptest::option::of(1.0..1_000.0_f64));
    (electrical, others).prop_map(|((supply_v, ohm, cable_m, sensors), (is_long, is_parasite, strong_pull_up_ohm))| {
        Numbers {
            timing: if is_long { TimingSet::LongLine } else { TimingSet::Recommended },
            power: if is_parasite { Supply::Parasite } else { Supply::Local },
            strong_pull_up_ohm,
            ..Numbers::plan(supply_v, ohm, cable_m, sensors)
        }
    })
}

proptest! {
    #[test]
    fn more_cable_and_more_sensors_never_raise_a_margin(
        numbers in any_numbers(), more_pf in 0.0..10_000.0_f64, more in 0..50_u32,
    ) {
        let longer = Numbers { cable_pf: numbers.cable_pf + more_pf, ..numbers };
        prop_assert!(none_rises(&computed(&numbers), &computed(&longer)));
        let crowded = Numbers { sensors: numbers.sensors + more, ..numbers };
        prop_assert!(none_rises(&computed(&numbers), &computed(&crowded)));
    }

    #[test]
    fn a_smaller_pull_up_never_raises_a_rise(numbers in any_numbers(), share in 0.01..1.0_f64, volts in 0.1..5.0_f64) {
        let circuit = numbers.circuit();
        let smaller = Circuit { pull_up_ohm: circuit.pull_up_ohm * share, ..circuit };
        if let Some(before_us) = circuit.rise_us(volts) {
            prop_assert!(smaller.rise_us(volts).unwrap() <= before_us + 1e-9);
        }
    }

    /// What is advised is true by the margins themselves.
    #[test]
    fn advice_holds_at_its_ends(numbers in any_numbers()) {
        let advice = LineAdvice::of(&numbers);
        let is_good = |numbers: &Numbers| {
            LineParameter::BY_LOAD.iter().all(|parameter| value(*parameter, numbers).is_some_and(is_kept))
        };
        if let Some(more_m) = advice.cable_more_m.filter(|_| advice.room[0].most_pf > 0.0) {
            let with = |more_m: f64| Numbers { cable_pf: numbers.cable_pf + more_m * numbers.pf_per_m, ..numbers };
            prop_assert!(is_good(&with(more_m - 0.01)) && !is_good(&with(more_m + 0.01)));
        }
        if let Some(more) = advice.sensors_more.and_then(|more| u32::try_from(more).ok()) {
            let with = |more: u32| Numbers { sensors: numbers.sensors + more, ..numbers };
            prop_assert!(is_good(&with(more)) && !is_good(&with(more + 1)));
        }
        for ohm in advice.pull_up.fitting_ohm {
            let fitted = Numbers { pull_up_ohm: f64::from(ohm), ..numbers };
            prop_assert!(is_good(&fitted) && value(LineParameter::LowLevel, &fitted).is_some_and(is_kept));
        }
    }
}
