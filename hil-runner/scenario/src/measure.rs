//! Measurements and what is expected of them.

use toml::de::DeValue;

use super::keys;
use super::selection::{Least, read_selection, read_sensor};
use super::words::{doubts, failures};
use super::{Convert, Expectation, Measure, Proof, Reference, Values};
use slotwise::thermometer::Doubt;
use slotwise_rig::Rig;
use slotwise_rig::Selection;
use slotwise_rig::keys::TEMPERATURE;
use slotwise_terms::input::form::{Form, Key};
use slotwise_terms::input::list::one_or_many;
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::{Entry, Table};
use slotwise_terms::input::words::{few, quoted};

/// Most references of one measurement.
const MAX_NEAR: usize = 20;

/// Reads a measurement.
pub(super) fn read(rig: &Rig, table: &Table<'_, '_>) -> Read<Measure> {
    let sensors = read_selection(rig, table, &keys::SENSORS, Least::One);
    let convert = table.word(&keys::CONVERT).map(|index| [Convert::Together, Convert::OneByOne, Convert::Not][index]);
    let proof = table.word(&keys::PROOF).map(|index| [Proof::Each, Proof::None][index]);
    let values = read_values(rig, table, sensors.as_ref().ok());
    let near = read_near(rig, table, sensors.as_ref().ok());
    let agree = read_agree(table, sensors.as_ref().ok());
    let published = table.yes_no(&keys::PUBLISHED);
    let quantised = table.yes_no(&keys::QUANTISED);
    let in_time = table.yes_no(&keys::IN_TIME);
    let doubts = doubts(table, &keys::DOUBT);
    let fails = failures(table, &keys::MEASURE_FAILS);
    let consistent = check(table, convert.as_ref().ok().copied(), doubts.as_deref().unwrap_or_default());

    let mut expect = near?;
    expect.extend(agree?.map(|within_millicelsius| Expectation::Agree { within_millicelsius }));
    let checks =
        [(published?, Expectation::Published), (quantised?, Expectation::Quantised), (in_time?, Expectation::InTime)];
    expect.extend(checks.into_iter().filter(|(is_wanted, _)| *is_wanted).map(|(_, expectation)| expectation));
    expect.extend(doubts?.into_iter().map(Expectation::Doubt));
    expect.extend(Some(fails?).filter(|fails| !fails.is_empty()).map(Expectation::Fails));
    consistent?;
    Ok(Measure { sensors: sensors?, convert: convert?, proof: proof?, values: values?, expect })
}

/// Checks what does not go together.
fn check(table: &Table<'_, '_>, convert: Option<Convert>, doubts: &[Doubt]) -> Read<()> {
    let given = |key: &'static Key| {
        table
            .entry(key)
            .filter(|entry| !matches!(entry.value.get_ref(), DeValue::Boolean(false)))
            .map(|entry| (key, entry))
    };
    let clash = |rule: &str, (first, at): (&Key, Entry<'_, '_>), (second, and_at): (&Key, Entry<'_, '_>)| {
        table.reader().report(at.key_span.clone(), || {
            Report::contradiction(rule, format!("both {} and {}", first.name, second.name), first.name)
                .also(and_at.key_span.clone(), second.name)
        })
    };
    let mut checked = Ok(());
    if let Some(fails) = given(&keys::MEASURE_FAILS) {
        let numbers = [
            &keys::CORRECTED,
            &keys::NEAR,
            &keys::AGREE,
            &keys::PUBLISHED,
            &keys::QUANTISED,
            &keys::IN_TIME,
            &keys::DOUBT,
        ];
        for other in numbers.into_iter().filter_map(given) {
            checked = Err(clash("nothing else of a measurement that fails", other, fails.clone()));
        }
    }
    let Some(convert) = convert else {
        return checked;
    };
    if convert == Convert::Not {
        if let (Some(in_time), Some(convert)) = (given(&keys::IN_TIME), given(&keys::CONVERT)) {
            checked = Err(clash("a conversion where its time counts", in_time, convert));
        }
        if let (None, None, Some((_, entry))) =
            (given(&keys::DOUBT), given(&keys::MEASURE_FAILS), given(&keys::CONVERT))
        {
            checked = Err(table.reader().report(entry.value.span(), || {
                Report::contradiction(
                    "doubt or fails beside a reading without conversion",
                    "neither",
                    "such a reading is always doubtful",
                )
                .hint("add doubt = \"no conversion\"")
            }));
        }
    } else if let Some((_, entry)) = given(&keys::DOUBT).filter(|_| doubts.contains(&Doubt::NoConversion)) {
        checked = Err(table.reader().report(entry.value.span(), || {
            let report = Report::contradiction(
                "convert = \"not\" for the doubt \"no conversion\"",
                "a conversion",
                "cannot come true",
            );
            match given(&keys::CONVERT) {
                Some((_, convert)) => report.also(convert.value.span(), "a conversion"),
                None => report.hint("without the key convert, all sensors convert together"),
            }
        }));
    }
    checked
}

/// Which numbers are compared. Corrected ones only if each sensor has a correction.
fn read_values(rig: &Rig, table: &Table<'_, '_>, sensors: Option<&Selection>) -> Read<Values> {
    if !table.yes_no(&keys::CORRECTED)? {
        return Ok(Values::AsRead);
    }
    let sensors = sensors.into_iter().flatten().map(|index| &rig.inventory[*index]);
    let without: Vec<String> =
        sensors.filter(|sensor| sensor.correction.is_none()).map(|sensor| quoted(&sensor.label)).collect();
    let Some(entry) = table.entry(&keys::CORRECTED).filter(|_| !without.is_empty()) else {
        return Ok(Values::Corrected);
    };
    Err(table.reader().report(entry.key_span, || {
        let rule = format!("a correction in the rig file of {} for each sensor", quoted(&rig.name));
        Report::contradiction(rule, format!("none for {}", few(&without)), "corrected by what?")
            .hint("a scenario with fixed_point = { at = \"ice point\" }, run with --store-corrections, writes them")
    }))
}

fn read_agree(table: &Table<'_, '_>, sensors: Option<&Selection>) -> Read<Option<u32>> {
    let agree = table.optional_quantity(&keys::AGREE)?;
    if let (Some(entry), Some([_])) = (table.entry(&keys::AGREE), sensors.map(Vec::as_slice)) {
        return Err(table.reader().report(entry.key_span, || {
            let report = Report::contradiction("two sensors or more to agree", "one", "with which other one?");
            match table.entry(&keys::SENSORS) {
                Some(sensors) => report.also(sensors.value.span(), "one sensor"),
                None => report,
            }
        }));
    }
    Ok(agree)
}

fn read_near(rig: &Rig, table: &Table<'_, '_>, sensors: Option<&Selection>) -> Read<Vec<Expectation>> {
    let Some(entry) = table.entry(&keys::NEAR) else {
        return Ok(Vec::new());
    };
    let items = one_or_many(entry.value);
    if items.is_empty() || items.len() > MAX_NEAR {
        return Err(table.reader().report(entry.value.span(), || {
            Report::unexpected(format!("1 to {MAX_NEAR} tables"), items.len().to_string())
        }));
    }
    let read: Vec<_> = items
        .iter()
        .map(|item| {
            let near = Table::open(table.reader(), &keys::NEAR_SECTION, item)?;
            let reference = read_reference(rig, &near, sensors);
            let tolerance_millicelsius = near.quantity(&keys::WITHIN)?;
            Ok(Expectation::Near { reference: reference?, tolerance_millicelsius })
        })
        .collect();
    read.into_iter().collect()
}

fn read_reference(rig: &Rig, near: &Table<'_, '_>, sensors: Option<&Selection>) -> Read<Reference> {
    let value = near.required(&keys::REFERENCE)?.value;
    match value.get_ref() {
        DeValue::String(word) if word == "rig" => Ok(Reference::Rig),
        DeValue::Table(_) => {
            let table = Table::open(near.reader(), &keys::REFERENCE_SECTION, value)?;
            let index = read_sensor(rig, &table, &keys::REFERENCE_SENSOR)?;
            let complain = |rule: &str, found: &str| {
                Err(table.reader().report(value.span(), || Report::contradiction(rule, found, "the reference")))
            };
            match sensors {
                Some(sensors) if !sensors.contains(&index) => {
                    complain("a reference that is measured in the same step", "one that is not")
                }
                Some(sensors) if sensors.len() == 1 => {
                    complain("another sensor beside the reference", "the reference alone")
                }
                _ => Ok(Reference::Sensor(index)),
            }
        }
        _ => {
            let Form::Quantity(range) = TEMPERATURE else { unreachable!("a temperature is a quantity") };
            let or = ", \"rig\" or { sensor = \"a label\" }";
            Ok(Reference::Value { millicelsius: near.read_quantity(value, range, or)? })
        }
    }
}
