//! What is read back of a record that a run wrote, and what is refused.

use std::fs::File;
use std::path::Path;

use super::sample::sample_record;
use slotwise_record::{MAX_RECORD_BYTES, Record, Ruling, RunOutcome, StepData, StepOutcome, read_record, write_record};

/// What comes back of a record that is written to a file.
fn written(record: &Record) -> Result<Record, String> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.json");
    write_record(record, &path).unwrap();
    read_record(&path).map_err(|error| error.to_string())
}

/// What is said of a record after this change.
fn said(change: impl FnOnce(&mut Record)) -> Result<Record, String> {
    let mut record = sample_record(0);
    change(&mut record);
    written(&record)
}

#[test]
fn a_record_reads_back_as_it_was_written() {
    assert_eq!(said(|_| ()), Ok(sample_record(0)));
    let missing = read_record(Path::new("/nowhere/record.json")).unwrap_err();
    assert!(missing.is_missing() && missing.to_string().contains("cannot be read"));
}

#[test]
fn what_no_run_has_written_is_named() {
    let place = |record: &mut Record, place: &[u32]| record.steps[1].place = place.into();
    for (refused, why) in [
        (said(|record| place(record, &[0])), "\"all measure\" has the place \"0\""),
        (said(|record| place(record, &[1])), "\"all measure\" has the place \"1\""),
        (said(|record| place(record, &[3])), "\"all measure\" has the place \"3\""),
        (said(|record| place(record, &[1, 2])), "\"all measure\" has the place \"1.2\""),
        (said(|record| place(record, &[])), "\"all measure\" has the place \"\""),
        (said(|record| record.steps.swap(0, 1)), "\"all are there\" has the place \"1\""),
        (said(|record| record.steps[1].data = StepData::Rounds(slotwise_record::Rounds::default())), "has rounds"),
        (said(read_twice), "\"all measure\" reads 28:"),
        (said(|record| record.started_at = "yesterday".into()), "started_at: expected a time such as"),
        (said(|record| record.started_at = "2026-02-30T00:00:00Z".into()), "found \"2026-02-30T00:00:00Z\""),
        (said(|record| record.end.outcome = slotwise_record::RunOutcome::Failed), "its end is FAILED"),
        (said(|record| record.schema_version = 99), "a record of form 99, and this tool reads form 2"),
        (said(|record| record.steps[1].label = "\u{1b}[2J".into()), "a terminal obeys"),
    ] {
        let refused = refused.unwrap_err();
        assert!(refused.contains(why), "{why}: {refused}");
    }
}

#[test]
fn what_is_no_file_or_larger_than_any_record_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let why = |path: &Path| read_record(path).unwrap_err().to_string();
    assert!(why(folder.path()).contains("found a folder"));
    let large = folder.path().join("large.json");
    // Without content: it takes no room on the disk.
    File::create(&large).unwrap().set_len(MAX_RECORD_BYTES + 1).unwrap();
    assert!(why(&large).contains("expected at most 134217728 bytes"), "{}", why(&large));
    #[cfg(unix)]
    assert!(why(Path::new("/dev/zero")).contains("a pipe or a device"));
}

fn read_twice(record: &mut Record) {
    let StepData::Readings { readings, .. } = &mut record.steps[1].data else { panic!() };
    readings[1].sensor.rom = readings[0].sensor.rom;
}

#[test]
fn an_end_that_the_steps_do_not_lead_to_is_named() {
    let of = |change: &dyn Fn(&mut Record)| {
        let mut record = sample_record(0);
        change(&mut record);
        written(&record).err()
    };
    assert_eq!(of(&|_| ()), None);
    let ended = |record: &mut Record, outcome| record.end.outcome = outcome;
    let step = |record: &mut Record, outcome| {
        record.steps[1].outcome = outcome;
        record.steps[1].verdicts.clear();
    };
    for (said, why) in [
        (of(&|record| ended(record, RunOutcome::Failed)), "its end is FAILED, but no step failed"),
        (of(&|record| ended(record, RunOutcome::Incomplete)), "its end is INCOMPLETE, but every step passed"),
        (of(&|record| ended(record, RunOutcome::Broken)), "does not agree with what it says is broken"),
        (of(&|record| drop(record.steps.pop())), "its end is PASSED, but 1 of 2 steps are listed"),
        (of(&|record| step(record, StepOutcome::NotRun)), "its end is PASSED, but step \"all measure\" is not run"),
        (of(&|record| step(record, StepOutcome::Failed)), "is failed, which its verdicts do not agree with"),
        (of(&|record| record.steps[1].verdicts[0].ruling = Ruling::NotMet), "is passed, which its verdicts do not"),
        (of(&|record| record.steps[0].started_ns = u64::MAX), "ends before it begins"),
        (of(&|record| record.end.at_ns = 0), "ends after the run does"),
    ] {
        let said = said.unwrap_or_else(|| panic!("not refused: {why}"));
        assert!(said.contains(why), "{why}: {said}");
    }
}
