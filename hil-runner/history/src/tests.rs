//! Tests of the history: what goes in comes out, once, whatever happens to the file.

use std::path::Path;

use super::*;
use slotwise_bench::ideal::rig;
use slotwise_past::{Figure, FigureKind};
use slotwise_record::{ReadingOutcome, Record, RunOutcome, StepData};
use slotwise_run::sample::sample_record;

fn new_history() -> (tempfile::TempDir, History) {
    let folder = tempfile::tempdir().unwrap();
    let history = History::open(&folder.path().join("history.sqlite"), IfMissing::Make).unwrap();
    (folder, history)
}

fn add(history: &mut History, record: &Record, place: RunPlace<'_>) -> Added {
    let writing = history.write().unwrap();
    let added = writing.add(record, place).unwrap();
    writing.keep().unwrap();
    added
}

#[test]
fn a_run_comes_out_as_it_went_in() {
    let (_folder, mut history) = new_history();
    let record = sample_record(1_000_000);
    let place = RunPlace { night: Some("2026-03-01"), folder: Some(Path::new("/nights/1")) };
    let Added::New(id) = add(&mut history, &record, place) else { panic!() };
    let detail = history.run(id).unwrap().unwrap();
    assert_eq!(detail.run.started_at, "1970-01-12T13:46:40Z");
    assert_eq!(detail.run.night.as_deref(), Some("2026-03-01"));
    assert_eq!(detail.run.folder.as_deref(), Some("/nights/1"));
    assert_eq!(detail.run.outcome, record.end.outcome);
    assert_eq!(detail.run.outcome, RunOutcome::Passed, "{:?}", record.steps);
    let tally = record.tally();
    assert_eq!(
        (detail.run.met, detail.run.not_met, detail.run.cannot_tell),
        (tally.met, tally.not_met, tally.cannot_tell)
    );
    let labels: Vec<&str> = detail.steps.iter().map(|step| &*step.label).collect();
    assert_eq!(labels, ["all are there", "all measure"]);
    assert_eq!(detail.sensors.len(), 4);
    assert!(detail.sensors.iter().all(|sensor| sensor.readings == 1 && sensor.failed == 0));
    assert_eq!(detail.figures.len(), figures(&record).len());
    assert_eq!(history.run(id + 1).unwrap(), None);
}

#[test]
fn a_run_that_is_added_twice_is_counted_once() {
    let (_folder, mut history) = new_history();
    let first = add(&mut history, &sample_record(1), RunPlace::default());
    let second = add(&mut history, &sample_record(2), RunPlace::default());
    assert_eq!(
        add(&mut history, &sample_record(1), RunPlace { night: Some("later"), folder: None }),
        Added::Known(first.id())
    );
    assert_ne!(first.id(), second.id());
    assert_eq!(history.count().unwrap(), 2);
}

#[test]
fn what_is_not_kept_leaves_no_trace() {
    let (_folder, mut history) = new_history();
    let writing = history.write().unwrap();
    writing.add(&sample_record(1), RunPlace::default()).unwrap();
    assert_eq!(writing.count().unwrap(), 1);
    drop(writing);
    assert_eq!(history.count().unwrap(), 0);
}

#[test]
fn what_is_done_under_a_fault_is_no_figure() {
    let sound = sample_record(1);
    let counts = |record: &Record| {
        let failed = |figure: &&Figure| figure.kind == FigureKind::FailedReadings;
        figures(record)
            .iter()
            .filter(failed)
            .map(|figure| (figure.value, figure.of))
            .fold((0.0, 0), |sum, (value, of)| (sum.0 + value, sum.1 + of))
    };
    assert_eq!(counts(&sound), (0.0, 4));
    let mut faulty = sample_record(2);
    let lost =
        slotwise_record::FailureRecord { kind: slotwise_terms::FailureKind::Crc, text: "crc".into(), bytes: None };
    let StepData::Readings { readings, .. } = &mut faulty.steps[1].data else { panic!() };
    readings[0].outcome = ReadingOutcome::Failed(lost);
    assert_eq!(counts(&faulty), (1.0, 4));
    // The same under an injected fault, or in a step that must fail, says nothing.
    let slotwise_scenario::Action::Measure(measure) = &mut faulty.scenario.steps[1].action else { panic!() };
    measure.expect = vec![slotwise_scenario::Expectation::Fails(vec![slotwise_terms::FailureKind::Crc])];
    assert_eq!(counts(&faulty), (0.0, 0));
    let mut faulty = sample_record(3);
    let fault = slotwise_rig::Fault::Open;
    faulty.scenario.steps[0].action = slotwise_scenario::Action::Inject(fault.clone());
    faulty.steps[0].data = StepData::FaultInjected { fault };
    assert_eq!(counts(&faulty), (0.0, 0));
}

#[test]
fn half_a_run_has_no_figures() {
    let mut record = sample_record(1);
    assert!(!figures(&record).is_empty());
    for outcome in [RunOutcome::Interrupted, RunOutcome::Broken] {
        record.end.outcome = outcome;
        assert_eq!(figures(&record), []);
    }
}

#[test]
fn neighbours_are_all_others_that_were_measured_together() {
    let mut record = sample_record(1);
    let StepData::Readings { readings, .. } = &mut record.steps[1].data else { panic!() };
    for (reading, sixteenths) in readings.iter_mut().zip([320, 322, 324, 352]) {
        let ReadingOutcome::Read(number) = &mut reading.outcome else { panic!() };
        number.sixteenths = sixteenths;
    }
    let distances: Vec<f64> = figures(&record)
        .iter()
        .filter(|figure| figure.kind == FigureKind::FromNeighbours)
        .map(|figure| figure.value / 62.5)
        .collect();
    // The medians of the others: 324, 324, 322, 322 sixteenths. Sorted by ROM code, as the sensors of this rig are.
    assert_eq!(distances, [-4.0, -2.0, 2.0, 30.0]);
}

#[test]
fn what_no_run_has_written_has_no_figures() {
    let mut record = sample_record(1);
    let StepData::Readings { readings, .. } = &mut record.steps[1].data else { panic!() };
    let rom = readings[0].sensor.rom;
    readings.iter_mut().for_each(|reading| reading.sensor.rom = rom);
    assert!(figures(&record).iter().all(|figure| figure.kind != FigureKind::FromNeighbours), "it is alone");
    record.steps[1].place = vec![0];
    assert!(figures(&record).iter().all(|figure| figure.kind != FigureKind::FailedReadings), "of no step");
}

#[test]
fn two_programs_write_one_history() {
    let (folder, first) = new_history();
    let path = folder.path().join("history.sqlite");
    drop(first);
    std::thread::scope(|scope| {
        for writer in 0..4 {
            let path = &path;
            scope.spawn(move || {
                let mut history = History::open(path, IfMissing::Make).unwrap();
                for number in 0..5 {
                    add(&mut history, &sample_record(writer * 100 + number), RunPlace::default());
                }
            });
        }
    });
    let history = History::open(&path, IfMissing::Refuse).unwrap();
    assert_eq!(history.count().unwrap(), 20);
    history.check().unwrap();
}

#[test]
fn a_history_that_is_missing_foreign_newer_or_damaged_is_called_so() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let trouble = |name: &str| History::open(&path(name), IfMissing::Refuse).unwrap_err();
    assert!(matches!(trouble("none").trouble, HistoryTrouble::Missing));
    assert!(!path("none").exists(), "a look makes no file");
    rusqlite::Connection::open(path("foreign")).unwrap().execute_batch("CREATE TABLE cheese (age);").unwrap();
    assert!(matches!(trouble("foreign").trouble, HistoryTrouble::Foreign));
    std::fs::write(path("text"), "not a database at all, but longer than a header".repeat(10)).unwrap();
    let damaged = trouble("text");
    assert!(matches!(damaged.trouble, HistoryTrouble::Damaged(_)), "{damaged}");
    assert!(damaged.hint().unwrap().contains("record.json"));
    drop(History::open(&path("newer"), IfMissing::Make).unwrap());
    rusqlite::Connection::open(path("newer")).unwrap().pragma_update(None, "user_version", 99).unwrap();
    assert!(matches!(trouble("newer").trouble, HistoryTrouble::Newer { found: 99, known: 1 }));
}

#[test]
fn damage_inside_the_file_is_found() {
    let (folder, mut history) = new_history();
    for second in 0..50 {
        add(&mut history, &sample_record(second), RunPlace::default());
    }
    history.check().unwrap();
    drop(history);
    let path = folder.path().join("history.sqlite");
    let mut bytes = std::fs::read(&path).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle..middle + 4096].fill(0x5A);
    std::fs::write(&path, bytes).unwrap();
    let found = History::open(&path, IfMissing::Refuse).and_then(|history| history.check());
    assert!(matches!(found.unwrap_err().trouble, HistoryTrouble::Damaged(_) | HistoryTrouble::Nonsense(_)));
}

#[test]
fn a_sensor_is_followed_from_day_to_day() {
    let (_folder, mut history) = new_history();
    for day in 0..3 {
        add(&mut history, &sample_record(day * 86_400), RunPlace::default());
        add(&mut history, &sample_record(day * 86_400 + 60), RunPlace::default());
    }
    let label = &rig(4).inventory[0].label;
    let [sensor] = &history.sensors(Some(label)).unwrap()[..] else { panic!() };
    let days = history.follow(&sensor.rom, 2).unwrap();
    let counts: Vec<(&str, u32, u32)> = days.iter().map(|day| (&*day.day, day.runs, day.sensor.readings)).collect();
    assert_eq!(counts, [("1970-01-02", 2, 2), ("1970-01-03", 2, 2)]);
    assert!(days[0].sensor.mean_millicelsius.is_some() && days[0].conversion_us.is_some());
}

#[test]
fn the_conversion_time_of_a_day_is_that_of_the_highest_resolution() {
    let (_folder, mut history) = new_history();
    let mut measured = |second: i64, times: &[(Option<u8>, u32)]| {
        let mut record = sample_record(second);
        let StepData::Readings { readings, .. } = &mut record.steps[1].data else { panic!() };
        let first = readings[0].clone();
        readings.clear();
        for (bits, busy_us) in times {
            let mut reading = slotwise_record::ReadingRecord { busy_us: Some(*busy_us), ..first.clone() };
            let ReadingOutcome::Read(number) = &mut reading.outcome else { panic!() };
            number.resolution_bits = *bits;
            readings.push(reading);
        }
        add(&mut history, &record, RunPlace::default());
        first.sensor.rom.to_string()
    };
    measured(0, &[(Some(10), 150_100), (Some(12), 600_300), (Some(9), 75_600), (Some(11), 300_200)]);
    // Another run of that day has lower ones alone, and does not pull it down.
    measured(60, &[(Some(9), 75_700)]);
    measured(86_400, &[(Some(9), 75_500), (Some(10), 150_200)]);
    let rom = measured(2 * 86_400, &[(None, 500_000)]);
    let days = history.follow(&rom, 10).unwrap();
    let times: Vec<Option<f64>> = days.iter().map(|day| day.conversion_us).collect();
    assert_eq!(times, [Some(600_300.0), Some(150_200.0), Some(500_000.0)]);
}

#[test]
fn everything_can_be_exported() {
    let (_folder, mut history) = new_history();
    let record = sample_record(1_000_000);
    add(&mut history, &record, RunPlace::default());
    for (what, rows) in [(Export::Runs, 1), (Export::Readings, 4), (Export::Figures, figures(&record).len())] {
        let mut seen = 0;
        let all = history.export(what, &Which::default(), |names, row| {
            assert_eq!(names[0], "run");
            if let Some(row) = row {
                assert_eq!((row.len(), &row[0]), (names.len(), &Cell::Whole(1)));
                seen += 1;
            }
            Ok::<(), ()>(())
        });
        assert!(all.is_ok());
        assert_eq!(seen, rows, "{what:?}");
    }
    let none = Which { night: Some("another".into()), ..Which::default() };
    let mut seen = 0;
    assert!(
        history
            .export(Export::Runs, &none, |_, row| {
                seen += usize::from(row.is_some());
                Ok::<(), ()>(())
            })
            .is_ok()
    );
    assert_eq!(seen, 0);
}
