//! The bridge of a rig file.

use std::path::PathBuf;

use toml::de::DeValue;

use super::keys;
use super::{BridgeRig, ReferenceSource, RigCarrier};
use slotwise_terms::input::form::Form;
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::Table;
use slotwise_terms::input::words::quoted;

pub(super) fn read_bridge(table: &Table<'_, '_>) -> Read<BridgeRig> {
    let chip = table.required_name(&keys::CHIP);
    let carrier = read_carrier(table);
    let image = table.name(&keys::IMAGE);
    let strong_pull_up = table.yes_no(&keys::PULL_UP_SWITCH);
    let supply_switch = table.yes_no(&keys::SUPPLY_SWITCH);
    let short_switch = table.yes_no(&keys::SHORT_SWITCH);
    let reference = read_reference(table);
    Ok(BridgeRig {
        chip: chip?.to_owned(),
        carrier: carrier?,
        image: image?.map(PathBuf::from),
        strong_pull_up: strong_pull_up?,
        supply_switch: supply_switch?,
        short_switch: short_switch?,
        reference: reference?,
    })
}

fn read_carrier(table: &Table<'_, '_>) -> Read<RigCarrier> {
    let carrier = match table.entry(&keys::CARRIER) {
        // The word for it in older files.
        Some(entry) if matches!(entry.value.get_ref(), DeValue::String(word) if word == "rtt") => Ok(0),
        _ => table.word(&keys::CARRIER),
    };
    let debug_probe = read_debug_probe(table);
    let wire_khz = table.optional_quantity(&keys::WIRE);
    let port = table.name(&keys::PORT);
    if carrier? == 0 {
        if let Some(entry) = table.entry(&keys::PORT) {
            return Err(table.reader().report(entry.key_span.clone(), || {
                Report::contradiction(
                    "no port where frames travel through the memory of the chip",
                    "one",
                    "for carrier = \"serial\" only",
                )
            }));
        }
        return Ok(RigCarrier::Memory { debug_probe: debug_probe?, wire_khz: wire_khz? });
    }
    for key in [&keys::DEBUG_PROBE, &keys::WIRE, &keys::IMAGE] {
        if let Some(entry) = table.entry(key) {
            return Err(table.reader().report(entry.key_span.clone(), || {
                let rule = format!("no {} where frames travel by a serial port", key.name);
                Report::contradiction(rule, "one", "nothing is flashed through a serial port")
            }));
        }
    }
    let port = port?.ok_or_else(|| {
        table.reader().report(table.span(), || Report::unexpected("the key port, for carrier = \"serial\"", "none"))
    })?;
    Ok(RigCarrier::Serial { port: port.to_owned() })
}

/// `VID:PID` or `VID:PID:SERIAL`; whether such a debug probe is there shows when it is opened.
fn read_debug_probe(table: &Table<'_, '_>) -> Read<Option<String>> {
    let Some(text) = table.name(&keys::DEBUG_PROBE)? else { return Ok(None) };
    let mut parts = text.splitn(3, ':');
    let is_id = |part: Option<&str>| {
        part.is_some_and(|part| (1..=4).contains(&part.len()) && part.chars().all(|digit| digit.is_ascii_hexdigit()))
    };
    if is_id(parts.next()) && is_id(parts.next()) {
        return Ok(Some(text.to_owned()));
    }
    let span = table.entry(&keys::DEBUG_PROBE).map_or(table.span(), |entry| entry.value.span());
    Err(table.reader().report(span, || {
        Report::unexpected("a debug probe as VID:PID or VID:PID:SERIAL, in hexadecimal", quoted(text))
    }))
}

pub(super) fn read_reference(table: &Table<'_, '_>) -> Read<ReferenceSource> {
    let Some(entry) = table.entry(&keys::REFERENCE) else { return Ok(ReferenceSource::None) };
    let DeValue::String(text) = entry.value.get_ref() else {
        return Err(table.reader().report_value(entry.value, &keys::REFERENCE.form.expected()));
    };
    match text.as_ref() {
        "none" => Ok(ReferenceSource::None),
        "operator" => Ok(ReferenceSource::Operator),
        _ => {
            let Form::Quantity(range) = keys::TEMPERATURE else { unreachable!("temperatures are quantities") };
            table.read_quantity(entry.value, range, ", \"none\" or \"operator\"").map(ReferenceSource::Millicelsius)
        }
    }
}
