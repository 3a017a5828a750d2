//! Whole runs over bad links: each ends as it would on a good one, or in a named error within its bound.

use std::collections::BTreeMap;
use std::time::Duration;

use serde_json::Value;

use super::faulty::{Faulty, LONGEST, Mischief, Mishap};
use super::rig::{Play, Ran, cellar, is_named, run, short};
use slotwise_record::{ReadingOutcome, Record, RunOutcome, StepData, StepRecord};
use slotwise_rig::reply::LinkRecord;

/// The longest that the bridge may be at work on one request of these scenarios: a proof at 12 bits takes up to 2.625 s.
const BUSY: Duration = Duration::from_millis(2_625);
/// What one repeat costs at most: a first wait, and the answer's.
const PER_REPEAT: Duration = Duration::from_millis(2_625 + 250);
/// What a request costs that is given up.
const GIVEN_UP: Duration = Duration::from_millis(2 * 2_625 + 4_000);
/// Most time on the wall for one run, in a debug build on a machine that is busy.
const WALL: Duration = Duration::from_secs(120);

const ONE_PERCENT: u32 = 10_000;
const TWENTY_PERCENT: u32 = 200_000;

/// How many runs ended how.
#[derive(Debug, Default)]
struct Tally {
    passed: u32,
    broken: u32,
    mishaps: u32,
    repeated: u32,
    /// The errors of those that broke, up to the first colon.
    names: BTreeMap<String, u32>,
}

/// Fields that hold a time, or what was measured in times.
const TIMES: [&str; 5] = ["started_ns", "ended_ns", "at_ns", "busy_us", "line_report"];
/// By how much a conversion time may differ with the moment it began in: the bridge polls once in a slot.
const LOOK_US: u32 = 200;

/// What a step brought to light, without the times.
fn essence(steps: &[StepRecord]) -> Value {
    fn forget_times(value: &mut Value) {
        match value {
            Value::Object(fields) => {
                fields.retain(|key, _| !TIMES.contains(&key.as_str()));
                fields.values_mut().for_each(forget_times);
            }
            Value::Array(values) => values.iter_mut().for_each(forget_times),
            _ => {}
        }
    }
    let mut value = serde_json::to_value(steps).unwrap();
    forget_times(&mut value);
    value
}

/// Every reading of the sensor that is ideal and in a block of metal: what it sends does not depend on when.
fn of_the_block(steps: &[StepRecord]) -> Vec<[u8; 9]> {
    let mut all = Vec::new();
    for step in steps {
        match &step.data {
            StepData::Readings { readings, .. } => {
                all.extend(readings.iter().filter_map(|reading| match &reading.outcome {
                    ReadingOutcome::Read(number) if format!("{:?}", reading.sensor).contains("reference block") => {
                        Some(number.bytes)
                    }
                    _ => None,
                }))
            }
            StepData::Rounds(rounds) => {
                all.extend(rounds.kept.iter().flat_map(|round| of_the_block(&round.steps)));
            }
            _ => {}
        }
    }
    all
}

/// Label and outcome of every step.
fn outcomes(record: &Record) -> Vec<(String, String)> {
    record.steps.iter().map(|step| (step.label.clone(), format!("{:?}", step.outcome))).collect()
}

/// Requests and conversions by the bridge's own count.
fn requests(record: &Record) -> u32 {
    record.steps.iter().filter_map(|step| step.line_report).map(|line| line.requests).sum()
}

fn faultless(play: &Play) -> Ran {
    let ran = run(play, |carrier, _| carrier);
    assert_eq!(ran.outcome(), RunOutcome::Passed, "{:?} {:?}", ran.broken, ran.record.as_ref().map(outcomes));
    assert_eq!(ran.record.as_ref().unwrap().end.link, LinkRecord::default(), "a good link has no troubles");
    ran
}

/// Runs `play` behind this mischief, and compares it with the run without.
fn compare(play: &Play, without: &Ran, mischief: &Mischief, tally: &mut Tally, agrees: fn(&Record, &Record)) {
    let mut happened = None;
    let ran = run(play, |carrier, _| {
        let (faulty, count) = Faulty::new(carrier, mischief);
        happened = Some(count);
        Box::new(faulty)
    });
    let mishaps = happened.map_or(0, |count| count.get());
    let link = ran.record.as_ref().map(|record| record.end.link).unwrap_or_default();
    tally.mishaps += mishaps;
    tally.repeated += link.repeated;
    match ran.outcome() {
        RunOutcome::Passed => {
            tally.passed += 1;
            let (record, good) = (ran.record.as_ref().unwrap(), without.record.as_ref().unwrap());
            assert_eq!(
                ran.wear, without.wear,
                "{mischief:?}: conversions and EEPROM writes, by the sensors' own count"
            );
            assert_eq!(requests(record), requests(good), "{mischief:?}");
            agrees(record, good);
        }
        RunOutcome::Broken => {
            tally.broken += 1;
            let text = ran.broken.as_deref().unwrap();
            assert!(is_named(text), "{mischief:?}: {text}");
            let name = text.split(':').next().unwrap_or(text);
            *tally.names.entry(name.to_owned()).or_default() += 1;
            for ((conversions, writes), (most_conversions, most_writes)) in ran.wear.iter().zip(&without.wear) {
                assert!(conversions <= most_conversions && writes <= most_writes, "{mischief:?}: done twice");
            }
        }
        other => panic!("{mischief:?}: {other:?}, {:?}", ran.record.map(|record| outcomes(&record))),
    }
    let most = without.rig_time + PER_REPEAT * link.repeated + LONGEST * mishaps + GIVEN_UP + BUSY;
    assert!(ran.rig_time <= most, "{mischief:?}: {:?} of the rig's time, more than {most:?}", ran.rig_time);
    assert!(ran.wall_time <= WALL, "{mischief:?}: {:?}", ran.wall_time);
}

/// Each mishap alone and all together, at this rate, with so many seeds. Tallies of each alone, and of all.
fn all_mischief(play: &Play, ppm: u32, seeds: u64, agrees: fn(&Record, &Record)) -> (Vec<Tally>, Tally) {
    let without = faultless(play);
    let mut kinds: Vec<(String, Vec<Mishap>)> =
        Mishap::ALL.map(|mishap| (format!("{mishap:?}"), vec![mishap])).into_iter().collect();
    kinds.push(("all together".into(), Mishap::ALL.to_vec()));
    println!("{}, each at {} %, {seeds} seeds: passed, broken, mishaps, repeats", play.scenario.name, ppm / 10_000);
    let mut tallies: Vec<Tally> = kinds
        .into_iter()
        .map(|(name, mishaps)| {
            let mut tally = Tally::default();
            for seed in 1..=seeds {
                let mischief = Mischief { mishaps: mishaps.clone(), ppm, seed };
                compare(play, &without, &mischief, &mut tally, agrees);
            }
            let Tally { passed, broken, mishaps, repeated, names } = &tally;
            println!("  {name:<13} {passed:>3} {broken:>3} {mishaps:>6} {repeated:>6}  {names:?}");
            assert!(*mishaps > 0, "{name}: nothing happened");
            tally
        })
        .collect();
    let together = tallies.pop().unwrap();
    (tallies, together)
}

/// More seeds in the long run, whose sign is the number of cases of property tests.
fn seeds(short: u64, long: u64) -> u64 {
    if std::env::var_os("PROPTEST_CASES").is_some() { long } else { short }
}

/// Conversion times in their order.
fn busy_us(steps: &[StepRecord]) -> Vec<u32> {
    let mut all = Vec::new();
    for step in steps {
        if let StepData::Readings { conversion, readings, .. } = &step.data {
            all.extend(conversion.as_ref().and_then(|conversion| conversion.busy_us));
            all.extend(readings.iter().filter_map(|reading| reading.busy_us));
        }
    }
    all
}

/// Nothing about it depends on when things are done, but for the last microseconds of a time.
fn bit_for_bit(record: &Record, good: &Record) {
    let (found, expected) = (essence(&record.steps), essence(&good.steps));
    // Not by assert_eq: two whole records help no reader.
    assert!(found == expected, "{}", first_difference(&found, &expected));
    let (found, expected) = (busy_us(&record.steps), busy_us(&good.steps));
    assert!(!found.is_empty() && found.len() == expected.len());
    let differs = |(found, expected): (&u32, &u32)| found.abs_diff(*expected) > LOOK_US;
    assert!(!found.iter().zip(&expected).any(differs), "{found:?} {expected:?}");
}

/// The surroundings of the first place in which two texts of JSON differ.
fn first_difference(found: &Value, expected: &Value) -> String {
    let (found, expected) = (found.to_string(), expected.to_string());
    let place = found.bytes().zip(expected.bytes()).take_while(|(one, other)| one == other).count();
    let around = |text: &str| text.chars().skip(place.saturating_sub(200)).take(300).collect::<String>();
    format!("found {}, expected {}", around(&found), around(&expected))
}

/// Sensors lag and are noisy, so that their numbers depend on when; the verdicts on them do not, nor do the block's bytes.
fn in_verdicts(record: &Record, good: &Record) {
    assert_eq!(outcomes(record), outcomes(good));
    let block = of_the_block(&good.steps);
    assert!(block.len() > 20, "{}", block.len());
    assert_eq!(of_the_block(&record.steps), block);
}

#[test]
fn at_one_percent_every_short_run_passes_bit_for_bit() {
    let (alone, together) = all_mischief(&short(), ONE_PERCENT, seeds(8, 100), bit_for_bit);
    assert!(alone.iter().chain([&together]).all(|tally| tally.broken == 0), "{alone:?} {together:?}");
}

#[test]
fn at_twenty_percent_of_one_mishap_every_short_run_passes_bit_for_bit() {
    let (alone, together) = all_mischief(&short(), TWENTY_PERCENT, seeds(8, 100), bit_for_bit);
    for tally in &alone {
        assert!(tally.broken * 50 <= tally.passed, "{alone:?}");
    }
    // Four frames of five are mistreated then: some runs are given up, and each by its name, as every run requires.
    assert!(together.broken > 0, "{together:?}");
}

#[test]
fn at_one_percent_a_day_in_the_cellar_passes() {
    let (alone, together) = all_mischief(&cellar(), ONE_PERCENT, seeds(1, 10), in_verdicts);
    assert!(alone.iter().chain([&together]).all(|tally| tally.broken == 0), "{alone:?} {together:?}");
}

#[test]
fn at_twenty_percent_of_one_mishap_a_day_in_the_cellar_passes() {
    let (alone, _) = all_mischief(&cellar(), TWENTY_PERCENT, seeds(1, 10), in_verdicts);
    for tally in &alone {
        assert!(tally.broken * 10 <= tally.passed, "{alone:?}");
    }
}
