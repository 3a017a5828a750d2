//! Rules that hold for every line, and the lines that broke them.

use proptest::prelude::*;

use super::advice::{LineAdvice, PullUpAdvice};
use super::circuit::Circuit;
use super::figures::MASTER_PF;
use super::margin::{LineParameter, Margin, is_kept};
use super::margins::{computed, value};
use super::model::LineStudy;
use super::numbers::{Numbers, StrongPullUp};
use super::pull_up::PullUpSource;
use super::remedy::Remedy;
use super::slots::SlotTiming;

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
    let electrical = (2.5..6.0_f64, 100.0..50_000.0_f64, 0.0..500.0_f64, 0..200_u32);
    let timing = prop_oneof![Just(SlotTiming::ShortLine), Just(SlotTiming::LongLine), Just(SlotTiming::Uart)];
    let strong = prop_oneof![
        Just(StrongPullUp::None),
        Just(StrongPullUp::Unsaid),
        (1.0..1_000.0_f64).prop_map(StrongPullUp::Ohm)
    ];
    // Threshold as a share of the supply.
    let others = (timing, any::<bool>(), strong, 0.3..0.9_f64);
    (electrical, others).prop_map(
        |((supply_v, ohm, cable_m, sensors), (timing, is_parasite, strong_pull_up, share))| Numbers {
            timing,
            parasites: u32::from(is_parasite) * sensors,
            strong_pull_up,
            threshold_v: supply_v * share,
            ..Numbers::plan(supply_v, ohm, cable_m, sensors)
        },
    )
}

/// Lines that are small enough to be sound now and then.
fn modest_numbers() -> impl Strategy<Value = Numbers> {
    (any_numbers(), 0.0..60.0_f64, 0..12_u32, 500.0..6_000.0_f64).prop_map(
        |(numbers, cable_m, sensors, pull_up_ohm)| {
            let parasites = numbers.parasites.min(sensors);
            Numbers { cable_pf: cable_m * 50.0 + MASTER_PF, sensors, parasites, pull_up_ohm, ..numbers }
        },
    )
}

/// Limits that such a line breaks.
fn broken(numbers: &Numbers) -> Vec<LineParameter> {
    computed(numbers).iter().filter(|margin| !margin.is_kept()).map(|margin| margin.parameter).collect()
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
            LineParameter::BY_LOAD.iter().all(|parameter| numbers.keeps(*parameter))
        };
        if let Some(more_m) = advice.cable_more_m {
            prop_assert!(more_m >= -numbers.cable_m() - 1e-9);
            let with = |more_m: f64| {
                let more_pf = more_m * numbers.pf_per_m;
                let line = Numbers { cable_pf: (numbers.cable_pf + more_pf).max(MASTER_PF), ..numbers };
                advice.room.iter().all(|room| line.keeps(room.parameter))
            };
            prop_assert!(with(more_m - 0.01) || more_m - 0.01 < -numbers.cable_m());
            prop_assert!(!with(more_m + 0.01));
        } else if let Some(first) = advice.room.first() {
            let without = Numbers { cable_pf: MASTER_PF, ..numbers };
            prop_assert!(!without.keeps(first.parameter));
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

    /// Whatever resistor within its 5 % is fitted as advised, it breaks nothing that a resistor can mend, and a line that was sound
    /// stays so.
    #[test]
    fn an_advised_resistor_breaks_nothing(numbers in prop_oneof![any_numbers(), modest_numbers()]) {
        let advice = PullUpAdvice::of(&numbers);
        prop_assert_eq!(advice.use_ohm.is_some(), advice.fitting_ohm.iter().any(|ohm| *ohm <= 4_700));
        let Some(use_ohm) = advice.use_ohm else { return Ok(()) };
        let with = |ohm: f64| Numbers { pull_up_ohm: ohm, ..numbers };
        // The smallest that a sensor pulls low: what is broken with it, no resistor mends.
        let hopeless = broken(&with(advice.floor_ohm));
        let was_sound = broken(&numbers).is_empty();
        for share in [0.95, 1.0, 1.05] {
            let fitted = broken(&with(f64::from(use_ohm) * share));
            prop_assert!(fitted.iter().all(|limit| hopeless.contains(limit)), "{use_ohm} x {share}: {fitted:?}");
            prop_assert!(!was_sound || fitted.is_empty(), "{use_ohm} x {share}: {fitted:?}");
        }
    }

    /// A remedy is one: with it, as far as it goes, there is a resistor with which the plan as a whole is sound.
    #[test]
    fn remedies_make_a_plan_sound(numbers in prop_oneof![any_numbers(), modest_numbers()]) {
        let advice = PullUpAdvice::of(&numbers);
        prop_assert!(advice.fitting_ohm.is_empty() || advice.remedies.is_empty());
        for remedy in advice.remedies {
            let changed = remedy.applied(&numbers);
            let pull_up_ohm = PullUpAdvice::of(&changed).fitting_ohm.first().copied();
            prop_assert!(pull_up_ohm.is_some(), "{remedy:?}");
            let fitted = Numbers { pull_up_ohm: pull_up_ohm.unwrap_or_default().into(), ..changed };
            prop_assert_eq!(LineStudy::of_plan(fitted).unsound, Vec::<String>::new(), "{:?}", remedy);
        }
    }

    /// What would help sensors on parasite power takes away all that is said of it.
    #[test]
    fn remedies_for_parasite_power_leave_nothing_to_say_of_it(numbers in prop_oneof![any_numbers(), modest_numbers()]) {
        let of_power = |numbers: Numbers| -> Vec<String> {
            let all = LineStudy::of_plan(numbers).unsound;
            all.into_iter().filter(|why| why.contains("parasite power")).collect()
        };
        if !of_power(numbers).iter().any(|why| why.contains("would help")) {
            return Ok(());
        }
        for remedy in Remedy::for_parasites(Some(&numbers)) {
            prop_assert_eq!(of_power(remedy.applied(&numbers)), Vec::<String>::new(), "{:?}", remedy);
        }
    }

    /// What is sound is so by all that is stated of it.
    #[test]
    fn a_plan_is_sound_by_one_rule(numbers in prop_oneof![any_numbers(), modest_numbers()]) {
        prop_assert_eq!(numbers.is_sound(), LineStudy::of_plan(numbers).unsound.is_empty());
    }
}

/// 5.5 V and 1.5 kohm carry one sensor: (5.5 - 3.0) V / 1.5 mA = 1667 ohm; 5 % above 1.5 kohm are 1575 ohm. The floor is 1275 ohm,
/// and 5 % below 1.3 kohm is less.
#[test]
fn a_resistor_that_carries_a_conversion_is_left_to_do_so() {
    let numbers = Numbers { parasites: 1, ..Numbers::plan(5.5, 1_500.0, 1.0, 1) };
    assert_eq!(broken(&numbers), []);
    let advice = PullUpAdvice::of(&numbers);
    assert_eq!((advice.fitting_ohm, advice.ceiling_by), (vec![1_500], LineParameter::ParasitePower));
    // At 3.3 V no resistor does, and it is no reason to refuse those that do otherwise.
    let weak = Numbers { parasites: 1, ..Numbers::plan(3.3, 1_500.0, 1.0, 1) };
    assert_eq!(broken(&weak), [LineParameter::ParasitePower]);
    assert_eq!(PullUpAdvice::of(&weak).use_ohm, Some(4_700));
    // What a strong pull-up carries is not known if its resistance is not stated.
    let unsaid = Numbers { strong_pull_up: StrongPullUp::Unsaid, ..numbers };
    assert_eq!(PullUpAdvice::of(&unsaid).use_ohm, Some(4_700));
}

/// 500 x 5 uA at 5 V want a resistor of at most (5 - 3.5) V / 2.5 mA = 600 ohm, less than the 1150 ohm that a sensor pulls low. Less
/// cable does not change that.
#[test]
fn too_many_sensors_are_no_matter_of_cable() {
    let advice = LineAdvice::of(&Numbers::plan(5.0, 4_700.0, 3.0, 500));
    assert_eq!(advice.cable_more_m, None);
    assert!(advice.room.iter().all(|room| (room.most_pf, room.cable_more_m) == (None, None)), "{:?}", advice.room);
    assert!((advice.pull_up.ceiling_by_current_ohm.unwrap() - 600.0).abs() < 1e-3);
    assert_eq!((advice.pull_up.use_ohm, &*advice.pull_up.remedies), (None, &[Remedy::FewerSensors][..]));
}

/// A sensor on parasite power takes 3.0 V for high (DS18B20 datasheet (7/19), DC table), which a line of 3.0 V never gets to: neither
/// cable nor timing nor resistor is to blame.
#[test]
fn only_more_supply_or_a_wire_helps_where_there_is_too_little() {
    let numbers =
        Numbers { parasites: 5, strong_pull_up: StrongPullUp::Ohm(10.0), ..Numbers::plan(3.0, 4_700.0, 3.0, 5) };
    let advice = PullUpAdvice::of(&numbers);
    assert_eq!((advice.ceiling_ohm, advice.ceiling_by_current_ohm, advice.use_ohm), (None, None, None));
    assert_eq!(advice.remedies, [Remedy::MoreSupply, Remedy::SupplyWire]);
}

/// The driver starts no conversion on parasite power without a switch, whatever the resistor carries.
#[test]
fn a_plan_for_parasite_power_without_a_strong_pull_up_is_not_sound() {
    let plan = |supply_v, cable_m, strong_pull_up| {
        let numbers = Numbers { strong_pull_up, parasites: 2, ..Numbers::plan(supply_v, 1_500.0, cable_m, 2) };
        LineStudy::of_plan(numbers)
    };
    let refused = plan(5.5, 1.0, StrongPullUp::None);
    let [why] = &refused.unsound[..] else { panic!("{:?}", refused.unsound) };
    assert!(why.starts_with("2 sensors on parasite power and no strong pull-up: the driver refuses"), "{why}");
    assert!(why.ends_with("a strong pull-up or a supply wire would help"), "{why}");
    assert!(refused.margins.iter().all(Margin::is_kept) && refused.remarks.is_empty(), "{refused:?}");
    assert_eq!(plan(5.5, 1.0, StrongPullUp::Ohm(10.0)).unsound, [""; 0]);
    // At 5 V no resistor of the series is sure to carry a conversion; with more supply one is, and the driver refuses all the same.
    let weak = Numbers { parasites: 2, ..Numbers::plan(5.0, 1_200.0, 1.0, 2) };
    assert_eq!(PullUpAdvice::of(&weak).remedies, [Remedy::StrongPullUp, Remedy::SupplyWire]);
    // 3 km are 504 ohm, more than the 200 ohm that 3.3 V leave for one sensor, with the best of switches.
    let why = plan(3.3, 3_000.0, StrongPullUp::None).unsound.remove(0);
    assert!(why.ends_with("; a supply wire would help"), "{why}");
}

/// 0.3 V / (1.5 mA x (9.979 ohm + 30 m x 0.168 ohm)) = 13.3.
#[test]
fn more_sensors_than_convert_at_once_are_a_remark() {
    let of = |sensors: u32, strong_pull_up| {
        let plan = Numbers { timing: SlotTiming::LongLine, ..Numbers::plan(3.3, 1_100.0, 30.0, sensors) };
        LineStudy::of_plan(Numbers { parasites: sensors, strong_pull_up, ..plan })
    };
    let many = of(40, StrongPullUp::Ohm(10.0));
    assert!(many.unsound.is_empty(), "{:?}", many.unsound);
    assert!(
        many.remarks[0].starts_with("convert one by one, or at most 13 at a time: 40 sensors"),
        "{:?}",
        many.remarks
    );
    assert_eq!(of(13, StrongPullUp::Ohm(10.0)).remarks, [""; 0]);
    let unsaid = of(13, StrongPullUp::Unsaid);
    assert!(unsaid.not_known[0].why.ends_with("--strong-pull-up"), "{:?}", unsaid.not_known);
    assert!(unsaid.margins.iter().all(|margin| margin.parameter != LineParameter::ParasitePower));
}

/// A line without a stated pull-up gets the one that is advised, and the report says so.
#[test]
fn a_plan_needs_no_resistor() {
    let plan = LineStudy::of_plan_without_pull_up(Numbers::plan(3.3, 1.0, 3.0, 2), PullUpSource::Unsaid);
    assert_eq!((plan.numbers.unwrap().pull_up_ohm, &*plan.unsound), (4_700.0, &[][..]));
    assert_eq!(
        plan.remarks,
        ["no pull-up is stated: 4.7 kohm, the one that is advised, is taken for all that follows"]
    );
    let hopeless = LineStudy::of_plan_without_pull_up(Numbers::plan(3.3, 1.0, 1_000.0, 2), PullUpSource::Unsaid);
    assert!(hopeless.remarks[0].contains("the usual one, for none does") && !hopeless.unsound.is_empty());
}

/// A rig whose file says that it has none is not one without a stated pull-up.
#[test]
fn a_rig_without_a_pull_up_is_not_sound() {
    let plan = |cable_m| LineStudy::of_plan_without_pull_up(Numbers::plan(3.3, 1.0, cable_m, 2), PullUpSource::Missing);
    let bare = plan(3.0);
    assert_eq!((bare.numbers.unwrap().pull_up_ohm, bare.pull_up), (4_700.0, PullUpSource::Missing));
    let [why] = &bare.unsound[..] else { panic!("{:?}", bare.unsound) };
    assert!(
        why.starts_with("no pull-up: ") && why.ends_with("4.7 kohm from the line to the supply would help"),
        "{why}"
    );
    let [remark] = &bare.remarks[..] else { panic!("{:?}", bare.remarks) };
    assert!(
        remark.starts_with("the rig has no pull-up, as its file says: 4.7 kohm, the one that is advised"),
        "{remark}"
    );
    // Where none would do, none is named.
    assert!(plan(1_000.0).unsound[0].ends_with("nothing lifts the line"), "{:?}", plan(1_000.0).unsound);
}
