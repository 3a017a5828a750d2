//! Fixed points on an ideal rig: a bath that is stable, one that is not, sensors that are off or silent, and who is warned.

use slotwise::thermometer::{Doubt, Doubts};

use super::tests::{blamed, outcomes, run};
use slotwise_bench::Pace;
use slotwise_record::{
    BathState, FixedPointRecord, ReadingRecord, Record, RunOutcome, StepData, StepOutcome, StepRecord,
};
use slotwise_record::{Check, Ruling, Verdict};
use slotwise_scenario::{Action, FixedPointCheck};
use slotwise_terms::fixed_point::{FixedPoint, HOT_WATER, ICE_BATH, STEAM};

const STEAM_POINT: FixedPoint = FixedPoint::SteamPoint { pressure_pa: 100_200 };

fn check(at: FixedPoint) -> FixedPointCheck {
    FixedPointCheck {
        sensors: vec![0, 1, 2],
        at,
        stable_within_millicelsius: 200,
        stable_for_ms: 120_000,
        give_up_ms: 600_000,
        within_millicelsius: None,
    }
}

fn ice() -> Vec<Action> {
    vec![Action::FixedPoint(check(FixedPoint::IcePoint))]
}

#[track_caller]
fn found(step: &StepRecord) -> (&FixedPointRecord, &[ReadingRecord]) {
    match &step.data {
        StepData::Readings { fixed_point: Some(found), readings, .. } => (found, readings),
        other => panic!("no fixed point: {other:?}"),
    }
}

#[track_caller]
fn bath(step: &StepRecord) -> &Verdict {
    step.verdicts.iter().find(|verdict| verdict.check == Check::Stable).expect("a verdict on the bath")
}

/// What is not met of the first step.
fn unmet(record: &Record) -> Vec<Check> {
    let verdicts = record.steps[0].verdicts.iter().filter(|verdict| verdict.ruling != Ruling::Met);
    verdicts.map(|verdict| verdict.check).collect()
}

#[test]
fn a_stable_ice_bath_passes_as_soon_as_its_window_is_over() {
    let record = run(ice(), |_, _| ());
    assert_eq!(outcomes(&record), [StepOutcome::Passed], "{:#?}", record.steps[0].verdicts);
    let step = &record.steps[0];
    let (ice, readings) = found(step);
    assert_eq!((ice.bath, ice.millicelsius, ice.rounds), (BathState::Stable, 0, 41));
    assert_eq!(readings.len(), 3 * 41, "all readings of the window are kept");
    assert!(ice.sensors.iter().all(|sensor| sensor.mean_millicelsius == 0 && sensor.correction_millicelsius == 0));
    let took_s = (step.ended_ns - step.started_ns) / 1_000_000_000;
    assert!((120..125).contains(&took_s), "{took_s} s");
    assert!(bath(step).got.starts_with("stable after 2 min "), "{}", bath(step).got);
}

#[test]
fn a_constant_error_becomes_a_correction_of_the_other_sign() {
    // shelf 2 reads two steps, 0.125 degC, too much.
    let record = run(ice(), |bench, _| bench.weather = Some(|_, sixteenths| sixteenths[1] = 2));
    assert_eq!(outcomes(&record), [StepOutcome::Passed]);
    let (ice, _) = found(&record.steps[0]);
    let corrections: Vec<i32> = ice.sensors.iter().map(|sensor| sensor.correction_millicelsius).collect();
    assert_eq!(corrections, [0, -125, 0]);
}

#[test]
fn accuracy_is_the_limit_of_the_datasheet_to_the_step_unless_the_scenario_says_otherwise() {
    // DS18B20: 0.5 degC is eight steps.
    let eight = |_: u32, sixteenths: &mut [i16]| sixteenths[0] = -8;
    assert_eq!(outcomes(&run(ice(), |bench, _| bench.weather = Some(eight))), [StepOutcome::Passed]);
    let record = run(ice(), |bench, _| bench.weather = Some(|_, sixteenths| sixteenths[0] = -9));
    assert_eq!(unmet(&record), [Check::Near]);
    let verdict = record.steps[0].verdicts.iter().find(|verdict| verdict.check == Check::Near).unwrap();
    assert_eq!((&*verdict.expected, &*verdict.got), ("0 degC within 0.5 degC", "-0.563 degC, the mean of 21 readings"));
    assert_eq!(
        verdict.source,
        "ice point at 101 325 Pa: ASTM E563, scope; DS18B20 datasheet (7/19), DC table: 0.5 degC from -10 to 85 degC"
    );
    let narrow = FixedPointCheck { within_millicelsius: Some(499), ..check(FixedPoint::IcePoint) };
    let record = run(vec![Action::FixedPoint(narrow)], |bench, _| bench.weather = Some(eight));
    assert_eq!(unmet(&record), [Check::Near]);
}

#[test]
fn steam_is_as_hot_as_its_pressure_makes_it() {
    // 1002 hPa: 99.66 degC (IAPWS-IF97); the ideal sensors read the step below, 99.625 degC.
    let record = run(vec![Action::FixedPoint(check(STEAM_POINT))], |_, _| ());
    assert_eq!(outcomes(&record), [StepOutcome::Passed], "{:#?}", record.steps[0].verdicts);
    let (steam, _) = found(&record.steps[0]);
    assert_eq!((steam.millicelsius, steam.sensors[0].mean_millicelsius), (99_662, 99_625));
    assert!(steam.source.starts_with("steam point at 1002 hPa: IAPWS-IF97"), "{}", steam.source);
    let near = record.steps[0].verdicts.iter().find(|verdict| verdict.check == Check::Near).unwrap();
    assert_eq!(near.expected, "99.662 degC within 1 degC");
}

#[test]
fn a_bath_that_never_settles_fails_with_what_was_seen_and_breaks_nothing() {
    // shelf 3 goes up and down by half a degree.
    let restless = |number: u32, sixteenths: &mut [i16]| sixteenths[2] = if number.is_multiple_of(2) { 0 } else { 8 };
    let record = run(ice(), |bench, _| bench.weather = Some(restless));
    assert_eq!(outcomes(&record), [StepOutcome::Failed]);
    assert_eq!((record.end.outcome, unmet(&record)), (RunOutcome::Failed, vec![Check::Stable]));
    let got = &bath(&record.steps[0]).got;
    assert!(
        got.starts_with("not stable after 10 min ") && got.contains("the largest span was 0.5 degC (shelf 3)"),
        "{got}"
    );
    let (ice, _) = found(&record.steps[0]);
    assert_eq!((ice.bath, ice.sensors.len()), (BathState::NotStable, 3));
}

#[test]
fn a_bath_that_slowly_warms_is_not_stable() {
    // One step in eleven rounds of 3 s: 0.23 degC in two minutes.
    let melting = |number: u32, sixteenths: &mut [i16]| sixteenths.fill((number / 11) as i16);
    let record = run(ice(), |bench, _| bench.weather = Some(melting));
    assert_eq!(unmet(&record), [Check::Stable]);
    let got = &bath(&record.steps[0]).got;
    assert!(got.contains("the largest drift +0.1"), "{got}");
}

#[test]
fn a_sensor_that_gives_no_number_is_named_long_before_patience_ends() {
    let record = run(ice(), |bench, _| bench.missing = vec![1]);
    assert_eq!(outcomes(&record), [StepOutcome::Failed]);
    let step = &record.steps[0];
    assert!((step.ended_ns - step.started_ns) / 1_000_000_000 < 130);
    assert!(bath(step).got.ends_with("no number to rely on from shelf 2"), "{}", bath(step).got);
    assert!(blamed(step).iter().any(|name| name.starts_with("shelf 2 (")), "{:?}", blamed(step));
}

#[test]
fn a_doubtful_number_is_none() {
    let mut doubts = Doubts::NONE;
    doubts.insert(Doubt::ReservedBytes);
    let record = run(ice(), |bench, _| bench.said_doubts = Some(doubts));
    assert_eq!(outcomes(&record), [StepOutcome::Failed]);
    assert!(unmet(&record).contains(&Check::Stable) && unmet(&record).contains(&Check::Doubts));
}

#[test]
fn a_number_that_is_not_that_of_its_bytes_fails_a_stable_bath() {
    let record = run(ice(), |bench, _| {
        bench.said_16.insert(0, 1);
    });
    assert_eq!((outcomes(&record), unmet(&record)), (vec![StepOutcome::Failed], vec![Check::Number]));
}

#[test]
fn a_step_for_an_operator_without_one_is_not_possible_and_never_passed() {
    let record = run(ice(), |bench, _| bench.bare = true);
    assert_eq!(outcomes(&record), [StepOutcome::NotPossible]);
    assert_eq!(record.end.outcome, RunOutcome::Incomplete);
    assert_eq!(record.steps[0].cautions, [ICE_BATH]);
}

#[test]
fn who_declines_a_caution_is_not_asked_to_do_it() {
    let actions = vec![Action::FixedPoint(check(STEAM_POINT)), Action::Wait { ms: 1 }];
    let record = run(actions, |bench, _| {
        bench.declines = true;
        // It would fail if anything was done.
        bench.bare = true;
    });
    assert_eq!(outcomes(&record), [StepOutcome::NotPossible, StepOutcome::Passed]);
    assert_eq!(record.steps[0].reason.as_deref(), Some("not possible on this rig: what the operator was warned of"));
    assert_eq!((&*record.steps[0].cautions, record.steps[1].cautions.len()), (&[STEAM.to_owned()][..], 0));
}

#[test]
fn a_run_that_is_stopped_in_a_bath_has_no_verdict_on_it() {
    let record = run(ice(), |bench, stop| bench.stop_after = Some((20, stop.clone())));
    assert_eq!(outcomes(&record), [StepOutcome::Interrupted]);
    assert!(record.steps[0].verdicts.is_empty());
    assert!(found(&record.steps[0]).0.rounds > 0);
}

#[test]
fn hot_water_is_warned_of_where_a_person_may_be_near() {
    let ambient = |to_millicelsius| Action::Ambient { sensors: vec![0], to_millicelsius };
    let cautions = |pace| {
        let record = run(vec![ambient(44_999), ambient(45_000)], |bench, _| bench.pace = pace);
        record.steps.into_iter().map(|step| step.cautions).collect::<Vec<_>>()
    };
    assert_eq!(cautions(Pace::RealTime), [Vec::new(), vec![HOT_WATER.to_owned()]]);
    assert_eq!(cautions(Pace::Virtual), [Vec::<String>::new(), Vec::new()]);
}

#[test]
fn a_repeated_fixed_point_has_its_caution_once() {
    let steps = vec![slotwise_scenario::Step { label: "ice".into(), line: 2, action: ice().remove(0) }];
    let bound = slotwise_scenario::Bound::Times(2);
    let record = run(vec![Action::Repeat { bound, max_failures_ppm: 0, steps }], |_, _| ());
    assert_eq!(outcomes(&record), [StepOutcome::Passed]);
    assert_eq!(record.steps[0].all_cautions(), [ICE_BATH]);
}
