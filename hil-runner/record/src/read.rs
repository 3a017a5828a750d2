//! A record is read back from its file. One that this tool would misread, or that no run has written, is refused.

use std::collections::HashSet;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use chrono::DateTime;
use serde_json::Value;

use super::agreement;
use super::{Record, SCHEMA_VERSION, StepData, StepRecord};
use slotwise_scenario::{Action, Step};

/// Largest record that is read: what a scenario may ask for gives less than 100 MB, see `MAX_ENTRIES` of its budget.
pub const MAX_RECORD_BYTES: u64 = 128 << 20;

/// Why a file is no record that can be used.
#[derive(Debug, thiserror::Error)]
pub enum ReadRecordError {
    /// The file cannot be read.
    #[error("cannot be read: {0}")]
    Read(#[source] io::Error),
    /// It is a folder, a pipe, a device: not opened, for such a thing may never end.
    #[error("no record of a run: expected a file, found {0}")]
    NotFile(&'static str),
    /// It is larger than any record.
    #[error("no record of a run: expected at most {MAX_RECORD_BYTES} bytes, found more")]
    TooLarge,
    /// Its beginning is no time.
    #[error("no record of a run: started_at: expected a time such as 2026-03-01T02:00:00Z, found {0:?}")]
    Date(String),
    /// It is not what a record is.
    #[error("no record of a run: {0}")]
    Form(#[source] serde_json::Error),
    /// The tool itself writes none of that.
    #[error("no record of a run: it has characters in it that a terminal obeys")]
    Obeyed,
    /// It has another form.
    #[error("a record of form {found}, and this tool reads form {SCHEMA_VERSION}")]
    Version {
        /// Its form.
        found: u64,
    },
    /// Its steps are none that its scenario could have had, or do not agree with its end.
    #[error("no record of a run: {0}")]
    Steps(String),
}

impl ReadRecordError {
    /// Whether there is no file.
    #[must_use]
    pub fn is_missing(&self) -> bool {
        matches!(self, Self::Read(error) if error.kind() == io::ErrorKind::NotFound)
    }
}

/// Reads a record.
///
/// # Errors
/// [`ReadRecordError`].
pub fn read_record(path: &Path) -> Result<Record, ReadRecordError> {
    let bytes = bytes(path)?;
    let value: Value = serde_json::from_slice(&bytes).map_err(ReadRecordError::Form)?;
    if obeyed(&value) {
        return Err(ReadRecordError::Obeyed);
    }
    // First: of another form anything else may be missing.
    match value["schema_version"].as_u64() {
        Some(found) if found != u64::from(SCHEMA_VERSION) => return Err(ReadRecordError::Version { found }),
        _ => {}
    }
    let record: Record = serde_json::from_value(value).map_err(ReadRecordError::Form)?;
    if DateTime::parse_from_rfc3339(&record.started_at).is_err() {
        return Err(ReadRecordError::Date(record.started_at));
    }
    check(&record.scenario.steps, &record.steps, &[]).map_err(ReadRecordError::Steps)?;
    agreement::check(&record).map_err(ReadRecordError::Steps)?;
    Ok(record)
}

/// All of a file, if it is one of the size of a record.
fn bytes(path: &Path) -> Result<Vec<u8>, ReadRecordError> {
    let metadata = std::fs::metadata(path).map_err(ReadRecordError::Read)?;
    if metadata.is_dir() {
        return Err(ReadRecordError::NotFile("a folder"));
    }
    if !metadata.is_file() {
        return Err(ReadRecordError::NotFile("something else (a pipe or a device)"));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(ReadRecordError::Read)?;
    // By what comes, for a file may grow.
    file.take(MAX_RECORD_BYTES + 1).read_to_end(&mut bytes).map_err(ReadRecordError::Read)?;
    if bytes.len() as u64 > MAX_RECORD_BYTES { Err(ReadRecordError::TooLarge) } else { Ok(bytes) }
}

/// Whether a terminal would obey any text in it.
fn obeyed(value: &Value) -> bool {
    let is_obeyed = |text: &str| text.chars().any(|c| c.is_control() && !matches!(c, '\n' | '\t'));
    match value {
        Value::String(text) => is_obeyed(text),
        Value::Array(values) => values.iter().any(obeyed),
        Value::Object(fields) => fields.iter().any(|(name, value)| is_obeyed(name) || obeyed(value)),
        Value::Null | Value::Bool(_) | Value::Number(_) => false,
    }
}

/// Whether records are those of these steps, each once and in order, inside the step at this place.
fn check(steps: &[Step], records: &[StepRecord], around: &[u32]) -> Result<(), String> {
    let mut last = 0;
    for record in records {
        let StepRecord { place, label, data, .. } = record;
        let step = match place.split_last() {
            Some((number, rest)) if rest == around && *number > last => {
                last = *number;
                steps.get(*number as usize - 1)
            }
            _ => None,
        };
        let Some(Step { action, .. }) = step else {
            let numbers: Vec<String> = place.iter().map(ToString::to_string).collect();
            let place = numbers.join(".");
            return Err(format!("step \"{label}\" has the place \"{place}\", where its scenario has none for it"));
        };
        match (action, data) {
            (Action::Repeat { steps, .. }, StepData::Rounds(rounds)) => {
                for round in &rounds.kept {
                    check(steps, &round.steps, place)?;
                }
            }
            (_, StepData::Rounds(_)) => return Err(format!("step \"{label}\" has rounds and repeats nothing")),
            (Action::Measure(_), StepData::Readings { readings, .. }) => {
                let mut seen = HashSet::new();
                if let Some(twice) = readings.iter().find(|reading| !seen.insert(reading.sensor.rom)) {
                    return Err(format!("step \"{label}\" reads {} twice", twice.sensor.rom));
                }
            }
            _ => {}
        }
    }
    Ok(())
}
