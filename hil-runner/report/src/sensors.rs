//! The sensors at the end of a run: each with all that was held against it.

use super::brief::worst_distance;
use super::step::label;
use super::verdicts::{painted, worst};
use super::{Grid, TextLook, nothing, table};
use slotwise_record::Subject;
use slotwise_record::{ReadNumber, ReadingOutcome, Record, StepData};

/// A table of the inventory: how often each was read, its last number, its largest error, and its expectations. Empty if
/// nothing was expected of anybody.
pub(super) fn tell(look: &TextLook, record: &Record) -> Vec<String> {
    let rows: Vec<Vec<String>> = record
        .rig
        .inventory
        .iter()
        .map(|sensor| row(record, &Subject { label: Some(sensor.label.clone()), rom: sensor.rom }, sensor.part.part()))
        .collect();
    if rows.iter().all(|row| row.last() == Some(&nothing())) {
        return Vec::new();
    }
    let heading = vec!["sensor", "ROM code", "part", "readings", "last", "off by at most", "met", "verdict"];
    let right = &["readings", "last", "off by at most", "met"];
    let mut told = vec![String::new()];
    told.extend(table(look, Grid { heading, right, rows }).into_iter().map(painted));
    told
}

fn row(record: &Record, sensor: &Subject, part: &str) -> Vec<String> {
    let verdicts = || {
        let all = record.steps.iter().flat_map(|step| &step.verdicts);
        all.filter(|verdict| verdict.sensor.as_ref() == Some(sensor))
    };
    let numbers: Vec<&ReadNumber> = record
        .steps
        .iter()
        .filter_map(|step| match &step.data {
            StepData::Readings { readings, .. } => Some(readings),
            _ => None,
        })
        .flatten()
        .filter(|reading| reading.sensor == *sensor)
        .filter_map(|reading| match &reading.outcome {
            ReadingOutcome::Read(number) => Some(number),
            ReadingOutcome::Failed(_) => None,
        })
        .collect();
    let (expected, met) = (verdicts().count(), verdicts().filter(|verdict| verdict.is_met()).count());
    vec![
        label(sensor),
        sensor.rom.to_string(),
        part.to_owned(),
        numbers.len().to_string(),
        numbers.last().map_or_else(nothing, |number| number.text()),
        worst_distance(verdicts()).unwrap_or_else(nothing),
        format!("{met} of {expected}"),
        if expected == 0 { nothing() } else { worst(verdicts()).word().into() },
    ]
}
