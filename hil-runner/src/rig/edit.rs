//! Corrections written into the text of a rig file, of which every other byte stays.
//!
//! `toml_edit` says where keys and values stand. Only there something is put in or replaced, and what comes out is read again:
//! it must be the same rig with the new corrections, or nothing is done.

use std::ops::Range;

use slotwise::bus::RomCode;
use toml_edit::{Document, Item, Key, Table, TableLike, Value};

use super::{Correction, Rig, keys};

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
    #[error("it is written in a way in which no correction can be put in; write them by hand")]
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

/// The text with these corrections in it. What stood there of them before is replaced.
pub(super) fn edited(text: &str, corrections: &[(RomCode, Correction)]) -> Result<String, EditError> {
    let mark = if text.starts_with('\u{FEFF}') { '\u{FEFF}'.len_utf8() } else { 0 };
    let (mark, body) = text.split_at(mark);
    let before = parse(body)?;
    let document = Document::parse(body)?;
    let mut splices = Vec::new();
    for (rom, correction) in corrections {
        let (table, layout) = find(document.as_table(), *rom).ok_or(EditError::NoSensor(*rom))?;
        splices.extend(splices_of(body, table, layout, correction).ok_or(EditError::Unfit)?);
    }
    // From the end, so that places before stay where they are. Of several in one place, the last is put in first.
    splices.sort_by_key(|splice| splice.place.start);
    let mut edited = body.to_owned();
    for Splice { place, text } in splices.into_iter().rev() {
        edited.replace_range(place, &text);
    }
    let after = parse(&edited).map_err(|_| EditError::Unfit)?;
    if after == with(before, corrections) { Ok(format!("{mark}{edited}")) } else { Err(EditError::Unfit) }
}

fn parse(text: &str) -> Result<Rig, EditError> {
    Rig::parse("the rig file", text).map_err(|errors| EditError::Rig(errors.to_string()))
}

/// The same rig with these corrections.
fn with(mut rig: Rig, corrections: &[(RomCode, Correction)]) -> Rig {
    for (rom, correction) in corrections {
        for sensor in rig.inventory.iter_mut().filter(|sensor| sensor.rom == *rom) {
            sensor.correction = Some(correction.clone());
        }
    }
    rig
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
fn splices_of(text: &str, table: &dyn TableLike, layout: Layout, correction: &Correction) -> Option<Vec<Splice>> {
    let quoted = |text: &str| Value::from(text).to_string();
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
            // Never asked for: what we store always says where it comes from. It would be told as unfit.
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

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "# The shed.\nrig = \"shed\"\nkind   = \"virtual\" # not real\n\n[line]\nsupply = \"3.3 V\"\n\
                        pull_up = '4.7 kohm'\ncable = \"3 m\"\nambient = \"20 degC\"\n\n";
    const LEFT: &str = "28:112233445566:56";
    const RIGHT: &str = "28:000000000001:40";

    fn correction(millicelsius: i32) -> Correction {
        Correction { millicelsius, at: Some("ice point".into()), on: Some("2026-11-25".into()) }
    }

    fn edit(text: &str, corrections: &[(&str, i32)]) -> Result<String, EditError> {
        let corrections: Vec<_> =
            corrections.iter().map(|(rom, by)| (rom.parse().expect("a code"), correction(*by))).collect();
        edited(text, &corrections)
    }

    /// The lines that are put in, below the head of a file.
    #[track_caller]
    fn becomes(sensors: &str, corrections: &[(&str, i32)], expected: &str) {
        for (head, ending) in
            [(HEAD.to_owned(), "\n"), (HEAD.replace('\n', "\r\n"), "\r\n"), (format!("\u{FEFF}{HEAD}"), "\n")]
        {
            let (sensors, expected) = (sensors.replace('\n', ending), expected.replace('\n', ending));
            assert_eq!(edit(&format!("{head}{sensors}"), corrections).unwrap(), format!("{head}{expected}"));
        }
    }

    const LINES: &str = "correction = \"-0.080 degC\"\ncorrected_at = \"ice point\"\ncorrected_on = \"2026-11-25\"\n";

    #[test]
    fn lines_are_put_below_the_rom_code_and_nothing_else_moves() {
        becomes(
            &format!(
                "[[sensor]]\nrom = \"{LEFT}\" # on the left\n# its label\nlabel = \"left\"\n[sensor.virtual]\noffset = \"0.08 degC\"\n\n\
                 [[sensor]] # the other\n  label=\"right\"\n  rom = \"{RIGHT}\"\n\n# the end\n"
            ),
            &[(LEFT, -80), (RIGHT, 1_250)],
            &format!(
                "[[sensor]]\nrom = \"{LEFT}\" # on the left\n{LINES}# its label\nlabel = \"left\"\n[sensor.virtual]\noffset = \"0.08 degC\"\n\n\
                 [[sensor]] # the other\n  label=\"right\"\n  rom = \"{RIGHT}\"\n  correction = \"1.250 degC\"\n  \
                 corrected_at = \"ice point\"\n  corrected_on = \"2026-11-25\"\n\n# the end\n"
            ),
        );
    }

    #[test]
    fn a_last_line_without_an_end_gets_none() {
        becomes(
            &format!("[[sensor]]\nlabel = \"left\"\nrom = \"{LEFT}\""),
            &[(LEFT, -80)],
            &format!("[[sensor]]\nlabel = \"left\"\nrom = \"{LEFT}\"\n{}", LINES.trim_end()),
        );
    }

    #[test]
    fn what_stood_there_is_replaced_where_it_stands() {
        becomes(
            &format!(
                "[[sensor]]\ncorrected_on = \"2020-01-01\" # long ago\ncorrection = '0.5 K' # too much\nlabel = \"left\"\nrom = \"{LEFT}\"\n"
            ),
            &[(LEFT, -80)],
            &format!(
                "[[sensor]]\ncorrected_on = \"2026-11-25\" # long ago\ncorrection = \"-0.080 degC\" # too much\n\
                 corrected_at = \"ice point\"\nlabel = \"left\"\nrom = \"{LEFT}\"\n"
            ),
        );
    }

    #[test]
    fn tables_in_braces_stay_in_braces() {
        let head = HEAD.replacen(
            "[line]",
            "line = { ambient = \"20 degC\", supply = \"3.3 V\", pull_up = \"4.7 kohm\", cable = \"3 m\" }\n",
            1,
        );
        let head = head.split("supply = \"3.3 V\"\n").next().unwrap();
        let sensors = |first: &str, second: &str| {
            format!(
                "{head}sensor = [ {{ rom = \"{LEFT}\"{first}, label = \"left\" }},\n  # and\n  {{label=\"right\",rom=\"{RIGHT}\"{second}}}, ]\n"
            )
        };
        let put = ", correction = \"-0.080 degC\", corrected_at = \"ice point\", corrected_on = \"2026-11-25\"";
        assert_eq!(edit(&sensors("", ""), &[(LEFT, -80)]).unwrap(), sensors(put, ""));
        assert_eq!(edit(&sensors(put, ""), &[(RIGHT, -80)]).unwrap(), sensors(put, put));
    }

    #[test]
    fn the_same_again_changes_nothing() {
        let text = format!("{HEAD}[[sensor]]\nlabel = \"left\"\nrom = \"{LEFT}\"\n");
        let once = edit(&text, &[(LEFT, -80)]).unwrap();
        assert_eq!(edit(&once, &[(LEFT, -80)]).unwrap(), once);
    }

    #[test]
    fn strangers_and_other_files_are_refused() {
        let text = format!("{HEAD}[[sensor]]\nlabel = \"left\"\nrom = \"{LEFT}\"\n");
        assert!(matches!(edit(&text, &[(RIGHT, 0)]), Err(EditError::NoSensor(_))));
        assert!(matches!(edit("rig = \"shed\"\n", &[]), Err(EditError::Rig(_))));
    }

    #[test]
    fn every_built_in_rig_takes_corrections_and_keeps_all_its_lines() {
        for name in crate::rig::BUILT_IN_RIGS {
            let text = crate::rig::built_in_rig_text(name).unwrap();
            let rig = crate::rig::built_in_rig(name).unwrap();
            let corrections: Vec<_> = rig.inventory.iter().map(|sensor| (sensor.rom, correction(-80))).collect();
            let edited = edited(text, &corrections).unwrap();
            let kept: Vec<&str> = edited.lines().filter(|line| !line.starts_with("correct")).collect();
            assert_eq!(kept, text.lines().collect::<Vec<_>>(), "{name}");
        }
    }
}
