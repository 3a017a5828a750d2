//! Sensors by label: all, none, some, or all but some.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use slotwise_rig::Rig;
use slotwise_rig::Selection;
use slotwise_terms::input::form::{Form, Key, Without};
use slotwise_terms::input::list::one_or_many;
use slotwise_terms::input::reader::{Read, Report, Value};
use slotwise_terms::input::table::Table;
use slotwise_terms::input::words::{nearest, quoted};

/// The only key of a selection that is a table.
const EXCEPT: &str = "except";

/// How many sensors must be selected at the least.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Least {
    None,
    One,
}

/// Reads the sensors of a key, or its default. They come in the order of the inventory.
pub(super) fn read_selection(rig: &Rig, table: &Table<'_, '_>, key: &Key, least: Least) -> Read<Selection> {
    let Some(entry) = table.entry(key) else {
        return match key.without {
            Without::Default(_) => Ok((0..rig.inventory.len()).collect()),
            _ => table.required(key).map(|_| Selection::new()),
        };
    };
    let selection = read_value(rig, table, entry.value)?;
    if selection.is_empty() && least == Least::One {
        return Err(table.reader().report(entry.value.span(), || {
            Report::unexpected("at least one sensor", "none").maybe_hint(
                (!matches!(entry.value.get_ref(), DeValue::Array(_)))
                    .then(|| "a step without sensors would do nothing".to_owned()),
            )
        }));
    }
    Ok(selection)
}

fn read_value(rig: &Rig, table: &Table<'_, '_>, value: &Value<'_>) -> Read<Selection> {
    match value.get_ref() {
        DeValue::String(word) if word == "all" => Ok((0..rig.inventory.len()).collect()),
        DeValue::String(word) if word == "none" => Ok(Selection::new()),
        DeValue::String(_) | DeValue::Array(_) => read_labels(rig, table, value),
        DeValue::Table(except) => read_except(rig, table, value, except),
        _ => Err(table.reader().report_value(value, &Form::Sensors.expected())),
    }
}

fn read_except<'i>(rig: &Rig, table: &Table<'_, 'i>, value: &Value<'i>, except: &DeTable<'i>) -> Read<Selection> {
    let mut entries = except.iter();
    match (entries.next(), entries.next()) {
        (Some((key, labels)), None) if key.get_ref() == EXCEPT => {
            let left_out = read_labels(rig, table, labels)?;
            Ok((0..rig.inventory.len()).filter(|index| !left_out.contains(index)).collect())
        }
        _ => Err(table.reader().report_value(value, &Form::Sensors.expected())),
    }
}

/// One label or a list of them, each once.
fn read_labels(rig: &Rig, table: &Table<'_, '_>, value: &Value<'_>) -> Read<Selection> {
    let items = one_or_many(value);
    let most = rig.inventory.len();
    if items.len() > most {
        let beyond = items[most].span();
        let found = format!("a list of {}", items.len());
        return Err(table
            .reader()
            .report(beyond, || Report::unexpected(format!("at most the {most} sensors of the rig"), found)));
    }
    let mut first_spans: Vec<Option<Range<usize>>> = vec![None; most];
    let mut read = Ok(());
    for item in items {
        match read_label(rig, table, item) {
            Ok(index) => {
                if let Some(first) = first_spans[index].replace(item.span()) {
                    read = Err(table.reader().report(item.span(), || {
                        let found = format!("{} again", quoted(&rig.inventory[index].label));
                        Report::contradiction("each sensor once", found, "this one repeats it")
                            .also(first, "first here")
                    }));
                }
            }
            Err(reported) => read = Err(reported),
        }
    }
    read.map(|()| first_spans.iter().enumerate().filter(|(_, span)| span.is_some()).map(|(index, _)| index).collect())
}

/// The index of the one sensor with this label.
pub(super) fn read_label(rig: &Rig, table: &Table<'_, '_>, value: &Value<'_>) -> Read<usize> {
    let DeValue::String(text) = value.get_ref() else {
        return Err(table.reader().report_value(value, &Form::Sensor.expected()));
    };
    rig.inventory.iter().position(|sensor| sensor.label == *text).ok_or_else(|| {
        table.reader().report(value.span(), || {
            let labels = || rig.inventory.iter().map(|sensor| sensor.label.as_str());
            let hint = match nearest(text, labels()) {
                Some(like) => Some(format!("the nearest label is \"{like}\"")),
                None if matches!(text.as_ref(), "all" | "none") => {
                    Some(format!("\"{text}\" is written alone, not in a list"))
                }
                None if rig.inventory.len() <= 12 => {
                    let labels: Vec<String> = labels().map(quoted).collect();
                    Some(format!("its labels are {}", labels.join(", ")))
                }
                None => None,
            };
            Report::unexpected(format!("the label of a sensor of the rig {}", quoted(&rig.name)), quoted(text))
                .maybe_hint(hint)
        })
    })
}

/// The one sensor that a key names.
pub(super) fn read_sensor(rig: &Rig, table: &Table<'_, '_>, key: &Key) -> Read<usize> {
    let entry = table.required(key)?;
    read_label(rig, table, entry.value)
}
