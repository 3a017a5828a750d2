//! Plans against examples computed by hand.

use slotwise::line::Timing;

use super::advice::LineAdvice;
use super::circuit::Circuit;
use super::figures::MASTER_PF;
use super::margin::{LineParameter, is_kept};
use super::margins::{computed, value};
use super::numbers::{Numbers, StrongPullUp};
use super::slots::SlotTiming;

/// A plan whose cable makes the whole line so many picofarads.
fn of_picofarads(supply_v: f64, pull_up_ohm: f64, picofarad: f64, sensors: u32) -> Numbers {
    let plan = Numbers::plan(supply_v, pull_up_ohm, 0.0, sensors);
    Numbers { cable_pf: picofarad - 25.0 * f64::from(sensors), ..plan }
}

fn long(numbers: Numbers) -> Numbers {
    Numbers { timing: SlotTiming::LongLine, ..numbers }
}

#[track_caller]
fn near(found: Option<f64>, by_hand: f64, within: f64) {
    assert!(found.is_some_and(|found| (found - by_hand).abs() <= within), "{found:?}, by hand {by_hand}");
}

/// Sizing as application notes do it (common practice): low for 6 us, sample at 15 us, so 9 us to VIH of 2.2 V. C = 9 us / (R
/// ln(V / (V - 2.2 V))). At 3.3 V ln(3.3 / 1.1) = ln 3 = 1.0986; at 5 V ln(5 / 2.8) = 0.57982: 9 / (4700 x 1.0986) = 1743 pF,
/// 35 m at 50 pF/m; 9 / (4700 x 0.57982) = 3303 pF, 66 m; and so on.
#[test]
fn a_line_that_just_gets_there_is_as_by_hand() {
    for (ohm, supply_v, picofarad, metres) in [
        (4_700.0, 3.3, 1_743.0, 35.0),
        (4_700.0, 5.0, 3_303.0, 66.0),
        (2_200.0, 3.3, 3_724.0, 74.0),
        (2_200.0, 5.0, 7_055.0, 141.0),
        (1_500.0, 3.3, 5_461.0, 109.0),
        (1_000.0, 3.3, 8_192.0, 164.0),
    ] {
        let line = Circuit { supply_v, pull_up_ohm: ohm, picofarad, load_ua: 0.0 };
        near(line.rise_us(2.2), 9.0, 0.003);
        near(Some((picofarad / 50.0).round()), metres, 0.0);
    }
    assert_eq!(Circuit { supply_v: 2.2, pull_up_ohm: 4_700.0, picofarad: 1.0, load_ua: 0.0 }.rise_us(2.2), None);
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
/// ln(1 / 0.3) = 4.7 x 1.20397 = 5.6587 us. With the short-line set (sample 13 us, low 3 us, check 9.5 us, slot 64 us, write-0
/// 61 us, reset 490 us; its own documentation): read 13 - 3 - 5.6587 = 4.3413; check 9.5 - 5.6587 = 3.8413; recovery 64 - 61 -
/// 5.1635 - 1 = -3.1635; presence 490 - (5.1635 + 60 + 240 + 5.6587) = 179.178; tRSTH 490 - 5.6587 - 480 = 4.3413;
/// tRDV 15 - 13 = 2; written 1 15 - 3 - 5.1635 = 6.8365.
#[test]
fn every_margin_of_a_line_without_load_is_as_by_hand() {
    let numbers = of_picofarads(3.3, 4_700.0, 1_000.0, 0);
    for (parameter, by_hand) in [
        (LineParameter::IdleLevel, 3.3 - 2.31),
        (LineParameter::RiseCheck, 3.8413),
        (LineParameter::ReadSample, 4.3413),
        (LineParameter::ReadValid, 2.0),
        (LineParameter::WriteOne, 6.8365),
        (LineParameter::Recovery, -3.1635),
        (LineParameter::Presence, 179.178),
        (LineParameter::ResetHigh, 4.3413),
    ] {
        near(value(parameter, &numbers), by_hand, 1e-3);
    }
    let broken: Vec<LineParameter> =
        computed(&numbers).iter().filter(|margin| !margin.is_kept()).map(|margin| margin.parameter).collect();
    assert_eq!(broken, [LineParameter::Recovery]);
    // The long-line set: sample 14 us, low 2 us, check 11.5 us, slot 90 us, write-0 65 us.
    near(value(LineParameter::ReadSample, &long(numbers)), 14.0 - 2.0 - 5.6587, 1e-3);
    near(value(LineParameter::RiseCheck, &long(numbers)), 11.5 - 5.6587, 1e-3);
    near(value(LineParameter::Recovery, &long(numbers)), 90.0 - 65.0 - 5.1635 - 1.0, 1e-3);
}

/// 20 sensors draw 20 x 5 uA = 100 uA, which are 0.47 V in 4.7 kohm: the line ends at 2.83 V, 0.52 V over 2.31 V. A rise to 2.2
/// V on 30 m (1510 pF with the master, 500 pF of sensors: RC = 9.447 us) takes 9.447 x ln(2.83 / 0.63) = 9.447 x 1.5023 =
/// 14.192 us, later than 12 us; to 2.31 V 9.447 x ln(2.83 / 0.52) = 9.447 x 1.6942 = 16.005 us. By the current alone: (3.3 - 2.31) V / 100 uA = 9.9 kohm.
#[test]
fn what_sensors_draw_counts() {
    let numbers = Numbers::plan(3.3, 4_700.0, 30.0, 20);
    let circuit = numbers.circuit();
    near(Some(circuit.idle_v()), 2.83, 1e-9);
    near(Some(circuit.time_constant_us()), 9.447, 1e-9);
    near(circuit.rise_us(2.2), 14.192, 2e-3);
    near(value(LineParameter::IdleLevel, &numbers), 0.52, 1e-9);
    near(value(LineParameter::ReadSample, &numbers), 10.0 - 16.005, 2e-3);
    near(value(LineParameter::WriteOne, &numbers), 12.0 - 14.192, 2e-3);
    near(LineAdvice::of(&numbers).pull_up.ceiling_by_current_ohm, 9_900.0, 1e-3);
    // 100 sensors leave 0.95 V: the line never gets there.
    let crowded = Numbers::plan(3.3, 4_700.0, 30.0, 100);
    let margins = computed(&crowded);
    let rise = margins.iter().find(|margin| margin.parameter == LineParameter::RiseCheck).unwrap();
    assert!(rise.margin.is_none() && !rise.is_kept() && rise.formula.contains("ends at 0.95 V"), "{rise:?}");
}

/// One sensor converts with 1.5 mA: 7.05 V in 4.7 kohm, more than there is. What is left of 3.3 V is 0.3 V: 0.3 V / 1.5 mA =
/// 200 ohm carry one; 5 m of cable have 5 x 0.168 = 0.84 ohm of them. With 10 ohm beside 4.7 kohm, 9.979 ohm, it is 0.3 / (1.5 mA x
/// 10.819) = 18.49. At 5 V 2 V are left: 1333.3 ohm for one, 1332.5 ohm beside the cable.
#[test]
fn parasite_power_is_as_by_hand() {
    let parasite = |supply_v, ohm, strong: Option<f64>| Numbers {
        parasites: 4,
        strong_pull_up: strong.map_or(StrongPullUp::None, StrongPullUp::Ohm),
        ..long(Numbers::plan(supply_v, ohm, 5.0, 4))
    };
    near(value(LineParameter::ParasitePower, &parasite(3.3, 4_700.0, None)), 3.3 - 7.05 - 1.5e-3 * 0.84 - 3.0, 1e-9);
    near(value(LineParameter::ParasitePower, &parasite(3.3, 4_700.0, Some(10.0))), 0.3 - 1.5e-3 * 10.818_77, 1e-6);
    let carried = |supply_v, ohm, strong| {
        let advice = LineAdvice::of(&parasite(supply_v, ohm, strong)).parasite;
        (advice.by_resistor, advice.by_strong_pull_up)
    };
    assert_eq!(carried(3.3, 4_700.0, Some(10.0)), (0, Some(18)));
    assert_eq!((carried(3.3, 199.1, None), carried(3.3, 199.2, None)), ((1, None), (0, None)));
    let formula = |supply_v, ohm| LineAdvice::of(&parasite(supply_v, ohm, None)).parasite.resistor_formula;
    // 2 V / (1.5 mA x 10.84 ohm) = 123.0; 0.3 V / (1.5 mA x 1.744 ohm) = 114.68; 0.3 V / (1.5 mA x 4700.84 ohm) = 0.04254; 11.997.
    for (supply_v, ohm, end) in
        [(5.0, 10.0, "= 123"), (3.3, 0.904, "= 114.6"), (3.3, 4_700.0, "= 0.0425"), (3.3, 15.83, "= 11.9")]
    {
        assert!(formula(supply_v, ohm).ends_with(end), "{}", formula(supply_v, ohm));
    }
    assert_eq!((carried(5.0, 1_332.0, None), carried(5.0, 1_333.0, None)), ((1, None), (0, None)));
    // A sensor on parasite power wants 3.0 V for high: ln(3.3 / 0.3) = 2.3979 time constants, without load.
    let numbers = Numbers { parasites: 1, ..of_picofarads(3.3, 4_700.0, 500.0, 0) };
    near(value(LineParameter::WriteOne, &numbers), 12.0 - 2.35 * 2.3979, 1e-3);
    // The master's sample does not depend on what sensors need.
    near(value(LineParameter::ReadSample, &numbers), 10.0 - 2.35 * 1.20397, 1e-3);
    assert!(computed(&numbers).iter().any(|margin| margin.parameter == LineParameter::ParasitePower));
}

/// What the driver's documentation says of its sets at 3.3 V: the short-line one is good for an RC product of 1.8 us, the
/// long-line one for 9.4 us; on parasite power 0.8 us and 5.2 us. The latter two it found on the virtual line with more at its
/// worst, so that here they must be allowed, and not by a wide margin.
#[test]
fn limits_agree_with_what_the_driver_says_of_its_timing_sets() {
    let most_us = |timing: SlotTiming, parasites: u32| {
        let numbers = Numbers { timing, parasites, ..of_picofarads(3.3, 1_000.0, 100.0, 0) };
        LineAdvice::of(&numbers).room[0].most_pf.unwrap() / 1_000.0
    };
    assert!((most_us(SlotTiming::ShortLine, 0) - 1.8).abs() < 0.05);
    assert!((most_us(SlotTiming::ShortLine, 1) - 0.8).abs() < 0.05);
    let (local, parasite) = (most_us(SlotTiming::LongLine, 0), most_us(SlotTiming::LongLine, 1));
    assert!((9.4..9.7).contains(&local), "{local}");
    assert!((5.2..5.5).contains(&parasite), "{parasite}");
}

/// The long-line set at 3.3 V and 4.7 kohm without load: 11.5 us / (4700 x 1.20397) = 2032 pF for the check, less 10 pF of the
/// master 40.4 m of cable at 50 pF/m: 30 m leave 10.4 m.
#[test]
fn room_for_cable_is_as_by_hand() {
    let advice = LineAdvice::of(&long(Numbers::plan(3.3, 4_700.0, 30.0, 0)));
    assert_eq!(advice.room[0].parameter, LineParameter::RiseCheck);
    near(advice.room[0].most_pf, 2_032.3, 0.5);
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
    for (set, timing) in [(SlotTiming::ShortLine, Timing::SHORT_LINE), (SlotTiming::LongLine, Timing::LONG_LINE)] {
        let valid = value(LineParameter::ReadValid, &Numbers { timing: set, ..numbers });
        near(valid, 15.0 - f64::from(timing.sample_ns) / 1e3, 1e-9);
    }
}

#[test]
fn the_master_counts_as_cable() {
    near(Some(Numbers::plan(3.3, 4_700.0, 20.0, 3).circuit().picofarad), 20.0 * 50.0 + 3.0 * 25.0 + MASTER_PF, 1e-9);
}

/// The same line on a serial adapter: low for 8.68 us, looked at after 13.02 us, 78.125 us and 86.81 us for a write-0 slot. Read 4.340 -
/// 5.6587 = -1.3185; written 1 15 - 8.6806 - 5.1635 = 1.1560; recovery 8.6806 - 5.1635 - 1 = 2.5171; tRDV 15 - 13.0208 = 1.9792;
/// presence 347.22 - (5.1635 + 300 + 5.6587) = 36.400; tRSTH 520.833 - 5.6587 - 480 = 35.1746. There is no check whether the line has risen after a reset.
#[test]
fn every_margin_on_a_serial_adapter_is_as_by_hand() {
    let numbers = Numbers { timing: SlotTiming::Uart, ..of_picofarads(3.3, 4_700.0, 1_000.0, 0) };
    for (parameter, by_hand) in [
        (LineParameter::ReadSample, -1.3185),
        (LineParameter::ReadValid, 1.9792),
        (LineParameter::WriteOne, 1.1560),
        (LineParameter::Recovery, 2.5171),
        (LineParameter::Presence, 36.4),
        (LineParameter::ResetHigh, 35.1746),
    ] {
        near(value(parameter, &numbers), by_hand, 1e-3);
    }
    let margins = computed(&numbers);
    assert!(margins.iter().all(|margin| margin.parameter != LineParameter::RiseCheck), "{margins:?}");
    assert!(margins.iter().all(|margin| !margin.source.contains("timing set")), "{margins:?}");
    // "A line that takes longer than 4.3 us to the receiver's threshold reads 0 in every slot", says the driver. 4.34 us / (4700 ohm x
    // 1.20397) = 767 pF.
    let first = LineAdvice::of(&numbers).room[0];
    assert_eq!(first.parameter, LineParameter::ReadSample);
    near(first.most_pf, 767.0, 0.5);
}

/// VDD and VPU are 3.0 to 5.5 V (DS18B20 datasheet (7/19), DC table).
#[test]
fn a_supply_beyond_its_limits_is_broken() {
    for (supply_v, by_hand) in [(2.8, -0.2), (3.0, 0.0), (3.3, 0.3), (5.0, 0.5), (5.5, 0.0), (6.0, -0.5)] {
        let margins = computed(&long(Numbers::plan(supply_v, 4_700.0, 1.0, 1)));
        let supply = margins.iter().find(|margin| margin.parameter == LineParameter::Supply).unwrap();
        near(supply.margin, by_hand, 1e-9);
        assert_eq!(supply.is_kept(), by_hand >= 0.0, "{supply:?}");
    }
}

/// 500 x 5 uA x 4.7 kohm would be 11.75 V of 5 V: the line is at 0 V, 3.5 V below the master's threshold, and not at -6.75 V.
#[test]
fn a_line_never_rests_below_ground() {
    let numbers = Numbers::plan(5.0, 4_700.0, 3.0, 500);
    near(Some(numbers.circuit().idle_v()), 0.0, 0.0);
    near(value(LineParameter::IdleLevel, &numbers), -3.5, 1e-9);
    let idle = computed(&numbers).into_iter().find(|margin| margin.parameter == LineParameter::IdleLevel).unwrap();
    assert_eq!(idle.formula, "[5 V - 500 x 5 uA x 4.7 kohm, not below 0 V = 0 V] - 3.5 V = -3.5 V");
}
