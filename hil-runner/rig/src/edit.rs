//! Corrections, labels and new sensors written into the text of a rig file, of which every other byte stays.
//!
//! `toml_edit` says where keys and values stand. Only there something is put in or replaced, and what comes out is read again:
//! it must be the same rig with the changes, or nothing is done.

use std::ops::Range;

use slotwise::bus::RomCode;
use slotwise::thermometer::{Family, Supply};
use toml_edit::{Document, Item, Key, Table, TableLike, Value};

use super::{Behaviour, Correction, Rig, Sensor, keys};

/// Something to be written into a rig file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Change {
    /// A sensor of the file gets this correction. What stood there of one before is replaced.
    Correction(RomCode, Correction),
    /// A sensor of the file gets another label.
    Label(RomCode, String),
    /// The file gets a sensor that it does not have.
    Sensor {
        /// Its ROM code.
        rom: RomCode,
        /// Its label.
        label: String,
        /// How it is powered.
        supply: Supply,
    },
}

/// Why a text cannot be edited.
#[derive(Debug, thiserror::Error)]
pub enum EditError {
    /// It is no TOML.
    #[error("it cannot be read as TOML: {0}")]
    Toml(#[from] toml_edit::TomlError),
    /// It is no rig, before or after.
    #[error("it is not the file of a rig: {0}")]
    Rig(String),
    /// There is no such sensor.
    #[error("it has no sensor {0}")]
    NoSensor(RomCode),
    /// The edited text is not the rig that it should be.
    #[error("it is written in a way in which nothing can be put in; write it by hand")]
    Unfit,
}

/// Something to be put in the place of something.
#[derive(Debug)]
struct Splice {
    place: Range<usize>,
    text: String,
}

/// How the table of a sensor is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Layout {
    /// A line for each key.
    Lines,
    /// In braces.
    Braces,
}

/// The text with these changes in it.
pub(super) fn edited(text: &str, changes: &[Change]) -> Result<String, EditError> {
    let mark = if text.starts_with('\u{FEFF}') { '\u{FEFF}'.len_utf8() } else { 0 };
    let (mark, body) = text.split_at(mark);
    let before = parse(body)?;
    let document = Document::parse(body)?;
    let mut splices = Vec::new();
    for change in changes {
        let known = |rom: RomCode| find(document.as_table(), rom).ok_or(EditError::NoSensor(rom));
        let put = match change {
            Change::Correction(rom, correction) => {
                let (table, layout) = known(*rom)?;
                correction_splices(body, table, layout, correction)
            }
            Change::Label(rom, label) => known(*rom)?.0.get(keys::LABEL.name).and_then(Item::span).map(|place| {
                let text = quoted(label);
                vec![Splice { place, text }]
            }),
            Change::Sensor { rom, label, supply } => {
                sensor_splice(body, document.as_table(), *rom, label, *supply).map(|splice| vec![splice])
            }
        };
        splices.extend(put.ok_or(EditError::Unfit)?);
    }
    // From the end, so that places before stay where they are. Of several in one place, the last is put in first.
    splices.sort_by_key(|splice| splice.place.start);
    let mut edited = body.to_owned();
    for Splice { place, text } in splices.into_iter().rev() {
        edited.replace_range(place, &text);
    }
    let after = parse(&edited).map_err(|_| EditError::Unfit)?;
    if Some(&after) == with(before, changes).as_ref() { Ok(format!("{mark}{edited}")) } else { Err(EditError::Unfit) }
}

fn parse(text: &str) -> Result<Rig, EditError> {
    Rig::parse_unfilled("the rig file", text).map_err(|errors| EditError::Rig(errors.to_string()))
}

/// The same rig with these changes. `None` if no rig can have them.
fn with(mut rig: Rig, changes: &[Change]) -> Option<Rig> {
    for change in changes {
        match change {
            Change::Correction(rom, correction) => {
                for sensor in rig.inventory.iter_mut().filter(|sensor| sensor.rom == *rom) {
                    sensor.correction = Some(correction.clone());
                }
            }
            Change::Label(rom, label) => {
                for sensor in rig.inventory.iter_mut().filter(|sensor| sensor.rom == *rom) {
                    sensor.label.clone_from(label);
                }
            }
            Change::Sensor { rom, label, supply } => rig.inventory.push(Sensor {
                label: label.clone(),
                rom: *rom,
                part: Family::of(*rom)?,
                supply: *supply,
                correction: None,
                behaviour: Behaviour::default(),
            }),
        }
    }
    Some(rig)
}

/// A text as it is written in a file.
fn quoted(text: &str) -> String {
    Value::from(text).to_string()
}

/// The table of the sensor with this ROM code.
fn find(top: &Table, rom: RomCode) -> Option<(&dyn TableLike, Layout)> {
    let is_it = |table: &dyn TableLike| {
        let text = table.get(keys::ROM.name).and_then(Item::as_str);
        text.and_then(|text| text.parse::<RomCode>().ok()) == Some(rom)
    };
    match top.get(keys::SENSOR.name)? {
        Item::ArrayOfTables(tables) => {
            let mut tables = tables.iter().map(|table| -> &dyn TableLike { table });
            tables.find(|table| is_it(*table)).map(|table| (table, Layout::Lines))
        }
        Item::Value(Value::Array(tables)) => {
            let mut tables = tables.iter().filter_map(Value::as_inline_table).map(|table| -> &dyn TableLike { table });
            tables.find(|table| is_it(*table)).map(|table| (table, Layout::Braces))
        }
        _ => None,
    }
}

/// What is to be put where. `None` if the places are not known.
fn correction_splices(
    text: &str,
    table: &dyn TableLike,
    layout: Layout,
    correction: &Correction,
) -> Option<Vec<Splice>> {
    let sign = if correction.millicelsius < 0 { "-" } else { "" };
    let size = correction.millicelsius.unsigned_abs();
    let wanted = [
        (keys::CORRECTION.name, Some(format!("\"{sign}{}.{:03} degC\"", size / 1000, size % 1000))),
        (keys::CORRECTED_AT.name, correction.at.as_deref().map(quoted)),
        (keys::CORRECTED_ON.name, correction.on.as_deref().map(quoted)),
    ];
    let mut splices = Vec::new();
    let mut missing = Vec::new();
    for (name, value) in wanted {
        match (table.get(name), value) {
            (Some(there), Some(value)) => splices.push(Splice { place: there.span()?, text: value }),
            (None, Some(value)) => missing.push(format!("{name} = {value}")),
            // Does not occur: a stored correction always names its origin. It would be reported as unfit.
            (_, None) => {}
        }
    }
    if missing.is_empty() {
        return Some(splices);
    }
    let anchor = [keys::CORRECTION.name, keys::ROM.name].into_iter().find(|name| table.contains_key(name))?;
    let (key, value) = table.get_key_value(anchor)?;
    let value = value.span()?;
    splices.push(match layout {
        Layout::Braces => Splice { place: value.end..value.end, text: format!(", {}", missing.join(", ")) },
        Layout::Lines => lines_below(text, key, value, &missing)?,
    });
    Some(splices)
}

/// A new sensor: a block of its own at the end of the file, or a table in braces behind the others.
fn sensor_splice(text: &str, top: &Table, rom: RomCode, label: &str, supply: Supply) -> Option<Splice> {
    let mut lines = vec![format!("label = {}", quoted(label)), format!("rom = \"{rom}\"")];
    if supply == Supply::Parasite {
        lines.push("power = \"parasite\"".to_owned());
    }
    match top.get(keys::SENSOR.name) {
        Some(Item::Value(Value::Array(tables))) => {
            let (place, comma) = match tables.iter().last() {
                Some(last) => (last.span()?.end, ", "),
                None => (tables.span()?.start + "[".len(), ""),
            };
            Some(Splice { place: place..place, text: format!("{comma}{{ {} }}", lines.join(", ")) })
        }
        Some(Item::ArrayOfTables(_)) | None => {
            let end = if text.contains("\r\n") { "\r\n" } else { "\n" };
            let gap = if text.is_empty() || text.ends_with('\n') { end.to_owned() } else { format!("{end}{end}") };
            let lines: String = lines.iter().map(|line| format!("{line}{end}")).collect();
            Some(Splice { place: text.len()..text.len(), text: format!("{gap}[[sensor]]{end}{lines}") })
        }
        Some(_) => None,
    }
}

/// Lines below that of a key and its value, with its indentation and its line end.
fn lines_below(text: &str, key: &Key, value: Range<usize>, lines: &[String]) -> Option<Splice> {
    let key_start = key.span()?.start;
    let line_start = text[..key_start].rfind('\n').map_or(0, |at| at + 1);
    let indentation = &text[line_start..key_start];
    let indentation = if indentation.trim().is_empty() { indentation } else { "" };
    let indented = lines.iter().map(|line| format!("{indentation}{line}"));
    Some(match text[value.end..].find('\n') {
        Some(length) => {
            let at = value.end + length + 1;
            let end = if text[..at].ends_with("\r\n") { "\r\n" } else { "\n" };
            Splice { place: at..at, text: indented.map(|line| format!("{line}{end}")).collect() }
        }
        // The last line, without an end of its own: what is put in has none either.
        None => {
            let end = if text.contains("\r\n") { "\r\n" } else { "\n" };
            let at = text.len();
            Splice { place: at..at, text: indented.map(|line| format!("{end}{line}")).collect() }
        }
    })
}
