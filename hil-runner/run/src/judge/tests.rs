//! The judge bites: each way in which a driver could lie or a sensor fail ends in a verdict against it.

use slotwise::thermometer::{AlarmLimits, Doubt, Doubts, Evidence, Family, Resolution, Settings};

use super::*;
use slotwise_limits::registers::residue;
use slotwise_limits::registers::{Registers, Unsound};
use slotwise_record::{Check, Comparison, Miss, Ruling, Subject, Verdict};
use slotwise_rig::reply::{Busy, Failure, Sample, Trouble};
use slotwise_scenario::{Convert, Expectation, Measure, Proof, Reference, Save, Values};
use slotwise_terms::FailureKind;

/// A DS18B20 at 25.0625 degC and 12 bits (a row of Table 1), TH 75, TL 70.
const WARM: [u8; 9] = [0x91, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0F, 0x10, 0x25];
/// The same after power-up: +85 degC.
const POWER_ON: [u8; 9] = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C];

fn sample(bytes: [u8; 9], sixteenths: i16) -> Sample {
    let limits = AlarmLimits { low: bytes[3].cast_signed(), high: bytes[2].cast_signed() };
    let resolution = Resolution::from_bits(9 + (bytes[4] >> 5 & 3));
    Sample {
        bytes,
        sixteenths,
        settings: Settings { limits, resolution },
        doubts: Doubts::NONE,
        evidence: Evidence::Waited,
    }
}

fn measured(outcome: Outcome) -> MeasuredSensor {
    MeasuredSensor {
        sensor: 0,
        subject: Subject { label: Some("brine bath".into()), rom: slotwise_bench::ideal::rom(1) },
        part: Family::Ds18b20,
        outcome,
        evidence: Evidence::Waited,
        rig_reference: None,
        correction: None,
        busy: None,
    }
}

fn measure(expect: Vec<Expectation>) -> Measure {
    Measure { sensors: vec![0], convert: Convert::Together, proof: Proof::Each, values: Values::AsRead, expect }
}

#[track_caller]
fn judge(expect: Vec<Expectation>, results: &[MeasuredSensor]) -> Vec<Verdict> {
    Judge::new().unwrap().measurement(&measure(expect), results)
}

/// The only verdict that is not met.
#[track_caller]
fn the_one_not_met(verdicts: Vec<Verdict>) -> Verdict {
    let mut against: Vec<Verdict> = verdicts.into_iter().filter(|verdict| verdict.ruling != Ruling::Met).collect();
    assert_eq!(against.len(), 1, "{against:#?}");
    against.remove(0)
}

fn doubtful(doubts: &[Doubt]) -> Doubts {
    let mut set = Doubts::NONE;
    for doubt in doubts {
        set.insert(*doubt);
    }
    set
}

fn frame(changes: &[(usize, u8)]) -> [u8; 9] {
    let mut bytes = WARM;
    for &(place, byte) in changes {
        bytes[place] = byte;
    }
    bytes[8] = residue(&bytes[..8]);
    bytes
}

#[test]
fn a_good_reading_meets_everything_and_cites_its_row() {
    let verdicts = judge(vec![Expectation::Quantised, Expectation::Published], &[measured(Ok(sample(WARM, 401)))]);
    assert!(verdicts.iter().all(Verdict::is_met), "{verdicts:#?}");
    let checks: Vec<Check> = verdicts.iter().map(|verdict| verdict.check).collect();
    assert_eq!(checks, [Check::Number, Check::Doubts, Check::Quantised, Check::Published]);
    assert_eq!(verdicts[0].expected, "25.0625 degC");
    assert_eq!(verdicts[0].source, "DS18B20 datasheet (7/19) Table 1");
}

#[test]
fn a_wrong_number_for_right_bytes_is_found() {
    let verdict = the_one_not_met(judge(vec![], &[measured(Ok(sample(WARM, 402)))]));
    assert_eq!(verdict.check, Check::Number);
    assert_eq!((&*verdict.expected, &*verdict.got), ("25.0625 degC", "25.125 degC"));
}

#[test]
fn a_number_from_damaged_bytes_is_found() {
    let mut bytes = WARM;
    bytes[0] ^= 1;
    let verdict = the_one_not_met(judge(vec![], &[measured(Ok(sample(bytes, 400)))]));
    assert_eq!((verdict.check, &*verdict.expected), (Check::Number, "no reading, since the CRC does not fit"));
}

#[test]
fn settings_read_wrongly_are_found() {
    let mut lie = sample(WARM, 401);
    lie.settings.resolution = Some(Resolution::Bits9);
    let verdict = the_one_not_met(judge(vec![], &[measured(Ok(lie))]));
    assert_eq!(verdict.check, Check::Settings);
    assert_eq!((&*verdict.expected, &*verdict.got), ("12 bits, TH 75, TL 70", "9 bits, TH 75, TL 70"));
}

#[test]
fn a_doubt_without_a_reason_is_found() {
    let lie = Sample { doubts: doubtful(&[Doubt::OutOfRange]), ..sample(WARM, 401) };
    let verdict = the_one_not_met(judge(vec![], &[measured(Ok(lie))]));
    assert_eq!((verdict.check, &*verdict.got), (Check::Doubts, "outside the operating range"));
}

#[test]
fn a_reason_for_doubt_that_is_not_named_is_found() {
    for (bytes, sixteenths) in [(POWER_ON, 1360), (frame(&[(7, 0x20)]), 401), (frame(&[(0, 0xE0), (1, 0x07)]), 2016)] {
        let verdict = the_one_not_met(judge(vec![], &[measured(Ok(sample(bytes, sixteenths)))]));
        assert_eq!((verdict.check, &*verdict.got), (Check::Doubts, "no doubt"), "{bytes:02X?}");
    }
}

#[test]
fn a_power_on_value_is_doubtful_unless_a_mark_proves_it() {
    let honest = Sample { doubts: doubtful(&[Doubt::PowerOnValue]), ..sample(POWER_ON, 1360) };
    assert_eq!(the_one_not_met(judge(vec![], &[measured(Ok(honest))])).expected, "no doubt");
    let known = |evidence, sample| MeasuredSensor { evidence, ..measured(Ok(sample)) };
    let claims = |evidence, bytes| the_one_not_met(judge(vec![], &[known(evidence, sample(bytes, 1360))])).check;
    assert_eq!(claims(Evidence::SeenBusy, POWER_ON), Check::Doubts, "a reset looks like the end of a conversion");
    assert_eq!(claims(Evidence::Proven, POWER_ON), Check::Doubts, "a proof without a mark");
    let marked = frame(&[(0, 0x50), (1, 0x05), (2, 0x7F), (3, 0x80)]);
    assert_eq!(claims(Evidence::SeenBusy, marked), Check::Doubts, "no proof put that mark there");
    assert!(judge(vec![], &[known(Evidence::Proven, sample(marked, 1360))]).iter().all(Verdict::is_met));
    // Limits that every temperature meets are a mark, too: on parasite power they turn the alarm flag on.
    let always = frame(&[(0, 0x50), (1, 0x05), (2, 0x80), (3, 0x7F)]);
    assert!(judge(vec![], &[known(Evidence::Proven, sample(always, 1360))]).iter().all(Verdict::is_met));
}

#[test]
fn an_expected_doubt_lets_others_pass_but_must_be_there() {
    let expect = vec![Expectation::Doubt(Doubt::NoConversion)];
    let doubts = doubtful(&[Doubt::NoConversion, Doubt::PowerOnValue]);
    let unconverted = |sample| MeasuredSensor { evidence: Evidence::None, ..measured(Ok(sample)) };
    let honest = unconverted(Sample { doubts, ..sample(POWER_ON, 1360) });
    assert!(judge(expect.clone(), &[honest]).iter().all(Verdict::is_met));
    let verdict = the_one_not_met(judge(expect, &[measured(Ok(sample(WARM, 401)))]));
    assert_eq!((verdict.check, &*verdict.expected), (Check::DoubtNamed, "doubt: no conversion waited for"));
}

#[test]
fn undefined_bits_are_cut_off_and_doubted() {
    let honest = Sample { doubts: doubtful(&[Doubt::UndefinedBits]), ..sample(frame(&[(4, 0x1F)]), 400) };
    let verdict = the_one_not_met(judge(vec![Expectation::Quantised], &[measured(Ok(honest))]));
    assert_eq!((verdict.check, &*verdict.got), (Check::Doubts, "undefined low bits set"));
    let lie = Sample { doubts: doubtful(&[Doubt::UndefinedBits]), ..sample(frame(&[(4, 0x1F)]), 401) };
    let checks: Vec<Check> = judge(vec![Expectation::Quantised], &[measured(Ok(lie))])
        .into_iter()
        .filter(|verdict| !verdict.is_met())
        .map(|verdict| verdict.check)
        .collect();
    assert_eq!(checks, [Check::Number, Check::Doubts, Check::Quantised]);
}

#[test]
fn the_tolerance_is_the_last_difference_that_is_met() {
    let near = |millicelsius, tolerance_millicelsius| {
        let reference = Reference::Value { millicelsius };
        judge(vec![Expectation::Near { reference, tolerance_millicelsius }], &[measured(Ok(sample(WARM, 401)))])
    };
    assert!(near(24_563, 500).iter().all(Verdict::is_met));
    let verdict = the_one_not_met(near(24_562, 500));
    assert_eq!(verdict.expected, "24.562 degC within 0.5 degC");
    assert_eq!(verdict.comparison, Some(Comparison { reference_millicelsius: 24_562, difference_millicelsius: 501 }));
    assert!(near(25_562, 500).iter().all(Verdict::is_met));
    assert!(!near(25_563, 500).iter().all(Verdict::is_met), "0.5005 degC off");
}

#[test]
fn a_reference_that_the_rig_does_not_know_is_never_met() {
    let expect = vec![Expectation::Near { reference: Reference::Rig, tolerance_millicelsius: 500 }];
    let known = MeasuredSensor { rig_reference: Some(Ok(25_000)), ..measured(Ok(sample(WARM, 401))) };
    assert!(judge(expect.clone(), &[known]).iter().all(Verdict::is_met));
    let unknown = MeasuredSensor {
        rig_reference: Some(Err("no reference thermometer".into())),
        ..measured(Ok(sample(WARM, 401)))
    };
    let verdict = the_one_not_met(judge(expect, &[unknown]));
    assert_eq!((verdict.ruling, &*verdict.got), (Ruling::CannotTell, "no reference thermometer"));
}

#[test]
fn a_reference_sensor_without_a_reading_is_a_failure() {
    let reference = MeasuredSensor {
        sensor: 1,
        ..measured(Err(Failure { kind: FailureKind::NoAnswer, text: "silence".into(), bytes: None }))
    };
    let expect = vec![Expectation::Near { reference: Reference::Sensor(1), tolerance_millicelsius: 500 }];
    let verdicts = judge(expect, &[measured(Ok(sample(WARM, 401))), reference]);
    let near = verdicts.iter().find(|verdict| verdict.check == Check::Near).unwrap();
    assert_eq!((near.ruling, &*near.got), (Ruling::NotMet, "no reading of the reference: silence"));
}

#[test]
fn sensors_that_disagree_are_named() {
    let other = MeasuredSensor {
        sensor: 1,
        subject: Subject { label: Some("air return".into()), rom: slotwise_bench::ideal::rom(2) },
        ..measured(Ok(sample(frame(&[(0, 0xA2), (1, 0x00)]), 162)))
    };
    let warm = measured(Ok(sample(WARM, 401)));
    let agree = |within_millicelsius| vec![Expectation::Agree { within_millicelsius }];
    assert!(judge(agree(14_938), &[warm.clone(), other.clone()]).iter().all(Verdict::is_met));
    let verdict = the_one_not_met(judge(agree(14_937), &[warm.clone(), other]));
    assert!(verdict.got.starts_with("14.9375 degC apart: 10.125 degC at air return ("), "{}", verdict.got);
    assert!(!judge(agree(1000), &[warm]).iter().all(Verdict::is_met), "one sensor cannot agree");
}

#[test]
fn a_conversion_is_in_time_up_to_the_published_maximum() {
    let judge = Judge::new().unwrap();
    let registers =
        |configuration| Registers::inspect(Family::Ds18b20, frame(&[(4, configuration), (0, 0x90)])).unwrap();
    let busy = |us| Busy { us, grain_us: 1_000 };
    for (configuration, max_us) in [(0x1F, 93_750), (0x3F, 187_500), (0x5F, 375_000), (0x7F, 750_000)] {
        // It may have ended just after the sample before.
        assert!(judge.in_time(busy(max_us + 1_000), &[registers(configuration)]).is_met());
        let verdict = judge.in_time(busy(max_us + 1_001), &[registers(configuration)]);
        assert_eq!(verdict.ruling, Ruling::NotMet);
        assert_eq!(verdict.source, "DS18B20 datasheet (7/19) Table 2");
    }
    // Of several the slowest decides.
    assert!(judge.in_time(busy(700_000), &[registers(0x1F), registers(0x7F)]).is_met());
}

#[test]
fn a_conversion_that_could_not_be_polled_is_never_in_time() {
    let measure = Measure { convert: Convert::OneByOne, ..measure(vec![Expectation::InTime]) };
    let judge = Judge::new().unwrap();
    let verdicts = judge.measurement(&measure, &[measured(Ok(sample(WARM, 401)))]);
    assert_eq!(the_one_not_met(verdicts).ruling, Ruling::CannotTell);
}

#[test]
fn a_point_between_the_rows_is_not_published() {
    let between = sample(frame(&[(0, 0x92)]), 402);
    let verdict = the_one_not_met(judge(vec![Expectation::Published], &[measured(Ok(between))]));
    assert_eq!((verdict.check, &*verdict.got), (Check::Published, "25.125 degC, which the table does not list"));
}

fn failure(kind: FailureKind, bytes: Option<[u8; 9]>) -> MeasuredSensor {
    measured(Err(Failure { kind, text: "the driver's words".into(), bytes }))
}

#[test]
fn an_expected_failure_is_met_by_its_kind_alone() {
    let expect = vec![Expectation::Fails(vec![FailureKind::Crc, FailureKind::NoAnswer])];
    let mut damaged = WARM;
    damaged[3] ^= 0x10;
    assert!(judge(expect.clone(), &[failure(FailureKind::Crc, Some(damaged))]).iter().all(Verdict::is_met));
    assert_eq!(
        the_one_not_met(judge(expect.clone(), &[failure(FailureKind::StuckLow, None)])).expected,
        "failure: wrong CRC or no answer"
    );
    let reading = the_one_not_met(judge(expect, &[measured(Ok(sample(WARM, 401)))]));
    assert_eq!(reading.got, "a reading of 25.0625 degC");
}

#[test]
fn a_failure_that_the_bytes_do_not_show_is_found() {
    let expect = vec![Expectation::Fails(vec![FailureKind::Crc])];
    let sound = the_one_not_met(judge(expect.clone(), &[failure(FailureKind::Crc, Some(WARM))]));
    assert_eq!(sound.got, "the driver's words, from bytes that are sound");
    let other = the_one_not_met(judge(expect, &[failure(FailureKind::Crc, Some([0xFF; 9]))]));
    assert_eq!(other.got, "the driver's words, from bytes that mean no answer");
}

#[test]
fn a_missing_reading_is_a_failure_in_the_driver_s_words() {
    let verdict = the_one_not_met(judge(vec![], &[failure(FailureKind::NoAnswer, None)]));
    assert_eq!((verdict.check, &*verdict.got), (Check::Reading, "the driver's words"));
    assert_eq!(verdict.sensor.unwrap().label.as_deref(), Some("brine bath"));
}

#[test]
fn sets_name_who_is_missing_who_is_extra_and_how_often() {
    let inventory = slotwise_bench::ideal::rig(3).inventory;
    let roms: Vec<_> = inventory.iter().map(|sensor| sensor.rom).collect();
    let stranger = slotwise_bench::ideal::rom(77);
    let mut tally = Tally::default();
    tally.add(&[roms[0], roms[1], stranger]);
    tally.add(&[roms[0]]);
    let against: Vec<(String, String)> = tally
        .verdicts(SearchGoal::All, &inventory, &[0, 1, 2])
        .into_iter()
        .filter(|verdict| !verdict.is_met())
        .map(|verdict| (verdict.sensor.unwrap().to_string(), verdict.got))
        .collect();
    let named = |sensor: &str, rom, got: &str| {
        (format!("{sensor}{rom}{}", if sensor.is_empty() { ", not in the inventory" } else { ")" }), got.to_owned())
    };
    assert_eq!(
        against,
        [
            named("shelf 2 (", roms[1], "found in 1 of 2 searches"),
            named("shelf 3 (", roms[2], "not found in any of 2 searches"),
            named("", stranger, "found in 1 of 2 searches"),
        ]
    );
}

#[test]
fn one_who_is_known_and_not_expected_is_extra() {
    let inventory = slotwise_bench::ideal::rig(2).inventory;
    let mut tally = Tally::default();
    tally.add(&[inventory[0].rom, inventory[1].rom]);
    let verdict = the_one_not_met(tally.verdicts(SearchGoal::Alarm, &inventory, &[1]));
    assert_eq!((&*verdict.expected, verdict.sensor.unwrap().label.as_deref()), ("not in alarm", Some("shelf 1")));
}

#[test]
fn an_empty_search_meets_an_empty_expectation() {
    let mut tally = Tally::default();
    tally.add(&[]);
    let verdicts = tally.verdicts(SearchGoal::All, &[], &[]);
    assert!(verdicts.len() == 1 && verdicts[0].is_met(), "{verdicts:?}");
}

#[test]
fn settings_are_judged_by_the_bytes() {
    let limits = AlarmLimits { low: 70, high: 75 };
    let twelve = Settings { limits, resolution: Some(Resolution::Bits12) };
    let held = Registers::inspect(Family::Ds18b20, WARM);
    assert!(judge_settings(Check::Settings, twelve, held).is_met());
    let nine = Settings { limits, resolution: Some(Resolution::Bits9) };
    let verdict = judge_settings(Check::Settings, nine, held);
    assert_eq!((verdict.ruling, &*verdict.got), (Ruling::NotMet, "12 bits, TH 75, TL 70"));
    assert!(!judge_settings(Check::Settings, twelve, Err(Unsound::Crc)).is_met());
}

#[test]
fn a_write_to_eeprom_is_found_where_none_may_be() {
    use slotwise::thermometer::Saved;
    assert!(judge_saved(Save::IfChanged, Saved::Written).is_met());
    assert!(judge_saved(Save::Unchanged, Saved::Unchanged).is_met());
    assert!(!judge_saved(Save::Unchanged, Saved::Written).is_met());
    for (saved, writes, is_met) in [
        (Saved::Written, 1, true),
        (Saved::Written, 0, false),
        (Saved::Written, 2, false),
        (Saved::Unchanged, 0, true),
        (Saved::Unchanged, 1, false),
    ] {
        assert_eq!(super::judge_writes(saved, writes).is_met(), is_met, "{saved:?}, {writes} writes");
    }
}

#[test]
fn a_distance_is_not_rounded_before_it_is_compared() {
    // 25.0625 and 25 degC are 0.0625 degC apart, whatever they are compared with.
    let other = MeasuredSensor {
        sensor: 1,
        subject: Subject { label: Some("air return".into()), rom: slotwise_bench::ideal::rom(2) },
        ..measured(Ok(sample(frame(&[(0, 0x90)]), 400)))
    };
    let against = |expectation: Expectation| {
        let results =
            [MeasuredSensor { rig_reference: Some(Ok(25_000)), ..measured(Ok(sample(WARM, 401))) }, other.clone()];
        let verdicts = judge(vec![expectation], &results);
        verdicts.into_iter().find(|verdict| matches!(verdict.check, Check::Near | Check::Agree)).unwrap()
    };
    for reference in [Reference::Value { millicelsius: 25_000 }, Reference::Rig, Reference::Sensor(1)] {
        let near = |tolerance_millicelsius| {
            against(Expectation::Near { reference: reference.clone(), tolerance_millicelsius })
        };
        assert_eq!(near(63).ruling, Ruling::Met, "{reference:?}");
        let verdict = near(62);
        assert_eq!(verdict.ruling, Ruling::NotMet, "{reference:?}");
        assert_eq!(verdict.comparison.unwrap().difference_millicelsius, 63);
    }
    assert_eq!(against(Expectation::Agree { within_millicelsius: 63 }).ruling, Ruling::Met);
    let verdict = against(Expectation::Agree { within_millicelsius: 62 });
    assert_eq!(verdict.ruling, Ruling::NotMet);
    assert!(verdict.got.starts_with("0.0625 degC apart"), "{}", verdict.got);
}

#[test]
fn lost_differs_from_wrong() {
    let miss = |verdicts: Vec<Verdict>| the_one_not_met(verdicts).miss.unwrap();
    let silent = || failure(FailureKind::NoAnswer, None);
    let warm = || measured(Ok(sample(WARM, 401)));
    let near = |reference| vec![Expectation::Near { reference, tolerance_millicelsius: 0 }];
    let fails = |kind| vec![Expectation::Fails(vec![kind])];
    assert_eq!(miss(judge(vec![], &[silent()])), Miss::Lost);
    assert_eq!(miss(judge(fails(FailureKind::Crc), &[silent()])), Miss::Lost);
    let agree = vec![Expectation::Agree { within_millicelsius: 0 }];
    let lost = judge(agree.clone(), &[warm(), silent()]);
    assert!(lost.iter().all(|verdict| verdict.miss != Some(Miss::Wrong)), "{lost:?}");

    assert_eq!(miss(judge(vec![], &[measured(Ok(sample(WARM, 402)))])), Miss::Wrong);
    assert_eq!(miss(judge(near(Reference::Value { millicelsius: 0 }), &[warm()])), Miss::Wrong);
    assert_eq!(miss(judge(fails(FailureKind::Crc), &[warm()])), Miss::Wrong);
    assert_eq!(miss(judge(fails(FailureKind::Crc), &[failure(FailureKind::Crc, Some(WARM))])), Miss::Wrong);
    assert_eq!(miss(judge(agree, &[warm(), measured(Ok(sample(frame(&[(0, 0x90)]), 400)))])), Miss::Wrong);
    let nine = Settings { limits: AlarmLimits { low: 70, high: 75 }, resolution: Some(Resolution::Bits9) };
    let held = judge_settings(Check::Settings, nine, Registers::inspect(Family::Ds18b20, WARM));
    assert_eq!(held.miss, Some(Miss::Wrong));
    assert_eq!(judge_saved(Save::Unchanged, slotwise::thermometer::Saved::Written).miss, Some(Miss::Wrong));
    let refused: Result<(), Trouble> = Err(Trouble::failed(FailureKind::NotTaken, "not taken"));
    assert_eq!(judge_refusal(Check::Settings, "settings taken", &[], &refused).miss, Some(Miss::Lost));
    let taken: Result<(), Trouble> = Ok(());
    assert_eq!(judge_refusal(Check::Settings, "", &[FailureKind::NotTaken], &taken).miss, Some(Miss::Wrong));

    let inventory = slotwise_bench::ideal::rig(2).inventory;
    let mut tally = Tally::default();
    tally.add(&[inventory[1].rom]);
    for (goal, expect, expected) in [(SearchGoal::All, 0, Miss::Lost), (SearchGoal::Alarm, 0, Miss::Lost)] {
        let verdicts = tally.verdicts(goal, &inventory, &[expect]);
        assert_eq!(
            verdicts.iter().map(|verdict| verdict.miss).collect::<Vec<_>>(),
            [Some(expected), Some(Miss::Wrong)]
        );
    }
    assert!(judge(vec![], &[warm()]).iter().all(|verdict| verdict.miss.is_none()));
}
