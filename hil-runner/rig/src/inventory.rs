//! The sensors of a rig file, and that no two of them are mistaken for each other.

use std::collections::HashMap;
use std::ops::Range;

use slotwise::bus::RomCode;

use super::Sensor;
use super::keys;
use super::label::{LabelProblem, check_label};
use super::sensor::read_sensor;
use slotwise_terms::input::reader::{Read, Reader, Report};
use slotwise_terms::input::table::Table;
use slotwise_terms::input::words::quoted;

/// What must be looked at across sensors, and where it stands.
pub(super) struct Marked<T> {
    pub(super) value: T,
    pub(super) span: Range<usize>,
}

/// Whether a rig must have sensors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Filling {
    /// It must.
    Required,
    /// They may be yet to be written down.
    MayBeMissing,
}

/// Whether no sensors are written down: no key, or an empty list.
pub(super) fn is_unfilled(top: &Table<'_, '_>) -> bool {
    top.entry(&keys::SENSOR).is_none_or(|entry| entry.value.get_ref().as_array().is_some_and(|list| list.is_empty()))
}

pub(super) fn read_inventory(top: &Table<'_, '_>, filling: Filling) -> Read<Vec<Sensor>> {
    if filling == Filling::MayBeMissing && is_unfilled(top) {
        return Ok(Vec::new());
    }
    let tables = top.tables(&keys::SENSOR)?;
    let mut sensors = Vec::new();
    let mut labels = Vec::new();
    let mut codes = Vec::new();
    for table in tables {
        sensors.push(table.and_then(|table| {
            let read = read_sensor(&table);
            labels
                .extend(read.label.as_ref().ok().map(|label| Marked { value: label.value, span: label.span.clone() }));
            codes.extend(read.rom.as_ref().ok().map(|rom| Marked { value: rom.value, span: rom.span.clone() }));
            read.sensor
        }));
    }
    let reader = top.reader();
    let labels = check_labels(reader, &labels);
    let codes = check_codes(reader, &codes);
    let sensors: Read<Vec<Sensor>> = sensors.into_iter().collect();
    labels?;
    codes?;
    sensors
}

fn check_labels(reader: &Reader<'_>, labels: &[Marked<&str>]) -> Read<()> {
    let mut seen = HashMap::new();
    let mut checked = Ok(());
    for Marked { value, span } in labels {
        match check_label(value) {
            // What cannot be printed has been reported where it was read.
            Ok(()) | Err(LabelProblem::Unprintable { .. }) => {}
            Err(LabelProblem::Reserved) => {
                checked = Err(reader.report(span.clone(), || {
                    Report::unexpected("a label that has no meaning of its own", quoted(value))
                        .hint("scenarios use all, none and rig for other things")
                }));
            }
            Err(LabelProblem::ReadsAsCode) => {
                checked = Err(reader.report(span.clone(), || {
                    Report::unexpected("a label that does not read as a ROM code", quoted(value))
                        .hint("where a sensor is named, a ROM code means the sensor that has it")
                }));
            }
        }
        if let Some(first) = seen.insert(*value, span.clone()) {
            checked = Err(reader.report(span.clone(), || {
                let found = format!("{} again", quoted(value));
                Report::contradiction("each label once on a rig", found, "this one repeats it")
                    .also(first, "first here")
            }));
        }
    }
    checked
}

fn check_codes(reader: &Reader<'_>, codes: &[Marked<RomCode>]) -> Read<()> {
    let mut seen = HashMap::new();
    let mut checked = Ok(());
    for Marked { value, span } in codes {
        if let Some(first) = seen.insert(*value, span.clone()) {
            checked = Err(reader.report(span.clone(), || {
                Report::contradiction("each ROM code once on a line", format!("{value} again"), "this one repeats it")
                    .also(first, "first here")
                    .hint("two sensors with one code answer as one and cannot be distinguished")
            }));
        }
    }
    checked
}
