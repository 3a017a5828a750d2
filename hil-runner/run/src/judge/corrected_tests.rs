//! Where a step compares corrected numbers, the number that was read is shown as well.

use slotwise::thermometer::{AlarmLimits, Doubts, Evidence, Family, Resolution, Settings};

use super::*;
use slotwise_record::{Check, Subject, Verdict};
use slotwise_rig::Correction;
use slotwise_rig::reply::Sample;
use slotwise_scenario::{Convert, Expectation, Measure, Proof, Reference, Values};

/// A DS18B20 at 25.0625 degC and 12 bits (DS18B20 datasheet (7/19), Table 1), TH 75, TL 70.
const WARM: [u8; 9] = [0x91, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0F, 0x10, 0x25];

fn warm(sensor: u8, correction_millicelsius: Option<i32>) -> MeasuredSensor {
    let settings = Settings { limits: AlarmLimits { low: 70, high: 75 }, resolution: Some(Resolution::Bits12) };
    let (doubts, evidence) = (Doubts::NONE, Evidence::Waited);
    let correction = correction_millicelsius.map(|millicelsius| Correction {
        millicelsius,
        at: Some("ice point".into()),
        on: Some("2026-11-25".into()),
    });
    MeasuredSensor {
        sensor: sensor.into(),
        subject: Subject { label: Some(format!("shelf {sensor}")), rom: slotwise_bench::ideal::rom(sensor) },
        part: Family::Ds18b20,
        outcome: Ok(Sample { bytes: WARM, sixteenths: 401, settings, doubts, evidence }),
        evidence,
        rig_reference: None,
        correction,
        busy: None,
    }
}

fn judge(expect: Expectation, results: &[MeasuredSensor]) -> Vec<Verdict> {
    let values = Values::Corrected;
    let measure =
        Measure { sensors: vec![0, 1], convert: Convert::Together, proof: Proof::Each, values, expect: vec![expect] };
    Judge::new().unwrap().measurement(&measure, results)
}

fn near(millicelsius: i32, tolerance_millicelsius: u32) -> Expectation {
    Expectation::Near { reference: Reference::Value { millicelsius }, tolerance_millicelsius }
}

#[track_caller]
fn the_one(check: Check, verdicts: Vec<Verdict>) -> Verdict {
    verdicts.into_iter().find(|verdict| verdict.check == check).expect("there is one")
}

#[test]
fn a_corrected_number_is_compared_and_says_so() {
    // 25.0625 - 0.08 = 24.9825 degC.
    let verdict = the_one(Check::Near, judge(near(25_000, 18), &[warm(1, Some(-80))]));
    assert!(verdict.is_met());
    assert_eq!(verdict.got, "24.983 degC corrected by -0.080 from 25.0625");
    assert_eq!(verdict.source, "scenario; correction of -0.080 by the rig file (ice point, 2026-11-25)");
    assert_eq!(verdict.comparison.unwrap().difference_millicelsius, -18);
    assert!(!the_one(Check::Near, judge(near(25_000, 17), &[warm(1, Some(-80))])).is_met());
    let plain = the_one(Check::Near, judge(near(25_000, 17), &[warm(1, None)]));
    assert_eq!((plain.is_met(), &*plain.got, &*plain.source), (false, "25.0625 degC", "scenario"));
}

#[test]
fn the_number_for_the_bytes_stays_the_one_that_was_read() {
    let verdict = the_one(Check::Number, judge(near(25_000, 500), &[warm(1, Some(1_000))]));
    assert_eq!((verdict.is_met(), &*verdict.got), (true, "25.0625 degC"));
}

#[test]
fn sensors_are_compared_with_each_other_as_corrected() {
    let results = [warm(1, Some(-80)), warm(2, Some(120))];
    let agree =
        |within_millicelsius| the_one(Check::Agree, judge(Expectation::Agree { within_millicelsius }, &results));
    assert!(agree(200).is_met());
    let verdict = agree(199);
    assert!(!verdict.is_met());
    assert!(
        verdict.got.starts_with("0.2 degC apart: 24.983 degC corrected by -0.080 from 25.0625 at shelf 1"),
        "{}",
        verdict.got
    );
    assert_eq!(verdict.source, "scenario; corrections of the rig file added");
    let by_sensor = |tolerance_millicelsius| {
        let reference = Expectation::Near { reference: Reference::Sensor(2), tolerance_millicelsius };
        the_one(Check::Near, judge(reference, &results))
    };
    assert!(by_sensor(200).is_met() && !by_sensor(199).is_met());
}
