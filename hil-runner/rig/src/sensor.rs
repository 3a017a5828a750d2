//! One sensor of a rig file.

use slotwise::bus::{ParseRomError, RomCode, RomError};
use slotwise::thermometer::{Family, Resolution, Supply};
use toml::de::DeValue;

use super::correction::read_correction;
use super::inventory::Marked;
use super::keys;
use super::{Behaviour, Sensor, Twin};
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::{Entry, Table};
use slotwise_terms::input::words::{or, quoted};

/// The parts in the order of [`keys::PART`].
const PARTS: [Family; 5] = [Family::Ds18s20, Family::Ds1822, Family::Ds18b20, Family::Ds1825, Family::Ds28ea00];

/// What could be read of a sensor. Label and ROM code are compared with those of others even if the rest is wrong.
pub(super) struct ReadSensor<'t> {
    pub(super) label: Read<Marked<&'t str>>,
    pub(super) rom: Read<Marked<RomCode>>,
    pub(super) sensor: Read<Sensor>,
}

pub(super) fn read_sensor<'t>(table: &Table<'t, '_>) -> ReadSensor<'t> {
    let label = table.required(&keys::LABEL).and_then(|entry| {
        let value = table.required_name(&keys::LABEL)?;
        Ok(Marked { value, span: entry.value.span() })
    });
    let rom = table.required(&keys::ROM).and_then(|entry| read_rom(table, &entry));
    let part = read_part(table, rom.as_ref().ok());
    let power = table.word(&keys::POWER);
    let correction = read_correction(table);
    let behaviour = read_behaviour(table, part.as_ref().ok().copied());
    let sensor = (|| {
        Ok(Sensor {
            label: label.as_ref().map_err(|reported| *reported)?.value.to_owned(),
            rom: rom.as_ref().map_err(|reported| *reported)?.value,
            part: part?,
            supply: [Supply::Local, Supply::Parasite][power?],
            correction: correction?,
            behaviour: behaviour?,
        })
    })();
    ReadSensor { label, rom, sensor }
}

fn read_rom(table: &Table<'_, '_>, entry: &Entry<'_, '_>) -> Read<Marked<RomCode>> {
    let span = entry.value.span();
    let DeValue::String(text) = entry.value.get_ref() else {
        return Err(table.reader().report_value(entry.value, &keys::ROM.form.expected()));
    };
    let rom: RomCode = text.parse().map_err(|error| {
        table.reader().report(span.clone(), || {
            Report::unexpected(keys::ROM.form.expected(), format!("{}: {error}", quoted(text)))
                .maybe_hint(corrected(text, error).map(|rom| format!("with the CRC that belongs there it is {rom}")))
        })
    })?;
    if Family::of(rom).is_some() {
        return Ok(Marked { value: rom, span });
    }
    let families: Vec<String> = PARTS.map(|part| format!("{} ({})", part.code(), part.part())).into();
    Err(table.reader().report(span, || {
        Report::unexpected(
            format!("a ROM code of a thermometer, of family {}", or(&families)),
            format!("{}, of family {}", quoted(text), rom.family()),
        )
    }))
}

/// The code with the right CRC, if only that is wrong.
fn corrected(text: &str, error: ParseRomError) -> Option<RomCode> {
    let ParseRomError::Rom(RomError::Crc { computed, .. }) = error else {
        return None;
    };
    let digits: Vec<u8> =
        text.chars().filter_map(|digit| digit.to_digit(16)).filter_map(|digit| digit.try_into().ok()).collect();
    let mut bytes = [0; 8];
    for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
        *byte = pair[0] << 4 | pair[1];
    }
    bytes[7] = computed;
    RomCode::new(bytes).ok()
}

/// The part: as written, or as the ROM code says. Both must agree.
fn read_part(table: &Table<'_, '_>, rom: Option<&Marked<RomCode>>) -> Read<Family> {
    let by_code = rom.and_then(|rom| Family::of(rom.value).map(|family| (family, rom)));
    let Some(entry) = table.entry(&keys::PART) else {
        return by_code.map(|(family, _)| family).ok_or_else(|| table.reader().already_reported());
    };
    let written = PARTS[table.read_word(entry.value, &PARTS.map(Family::part), &keys::PART.form)?];
    match by_code {
        Some((family, rom)) if family != written => Err(table.reader().report(entry.value.span(), || {
            let rule = format!("the part of family {}, {}", family.code(), family.part());
            Report::contradiction(rule, written.part(), "the part").also(rom.span.clone(), "the family code")
        })),
        _ => Ok(written),
    }
}

fn read_behaviour(sensor: &Table<'_, '_>, part: Option<Family>) -> Read<Behaviour> {
    let Some(table) = sensor.table(&keys::VIRTUAL)? else {
        return Ok(Behaviour::default());
    };
    let connected = table.yes_no(&keys::CONNECTED);
    let ambient = table.optional_quantity(&keys::SENSOR_AMBIENT);
    let offset = table.quantity(&keys::OFFSET);
    let noise = table.quantity(&keys::NOISE);
    let lag = table.quantity(&keys::LAG);
    let conversion = table.quantity(&keys::CONVERSION);
    let resolution = read_resolution(&table, part);
    let twin = table.table(&keys::TWIN).and_then(|twin| twin.map(|twin| read_twin(&twin)).transpose());
    Ok(Behaviour {
        connected: connected?,
        ambient_millicelsius: ambient?,
        offset_millicelsius: offset?,
        noise_millicelsius: noise?,
        lag_ms: lag?,
        conversion_permille: conversion?,
        resolution: resolution?,
        twin: twin?,
    })
}

fn read_twin(table: &Table<'_, '_>) -> Read<Twin> {
    Ok(Twin { ambient_millicelsius: table.optional_quantity(&keys::TWIN_AMBIENT)? })
}

fn read_resolution(table: &Table<'_, '_>, part: Option<Family>) -> Read<Resolution> {
    let Some(bits) = table.whole(&keys::RESOLUTION)? else {
        return Ok(Resolution::default());
    };
    if let (Some(Family::Ds18s20), Some(entry)) = (part, table.entry(&keys::RESOLUTION)) {
        return Err(table.reader().report(entry.key_span, || {
            Report::contradiction("no resolution on a DS18S20", format!("{bits} bits"), "it has no register for this")
        }));
    }
    Ok(u8::try_from(bits).ok().and_then(Resolution::from_bits).expect("the limits of the key are 9 and 12"))
}
