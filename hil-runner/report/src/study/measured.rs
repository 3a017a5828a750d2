//! What was measured: conversion times and noise, and what could not be.

use super::numbers::{celsius, exact_milliseconds, milliseconds};
use super::{bits, grid, heading, name, note};
use crate::look::Ink;
use crate::{TextLook, nothing, supply_word};
use slotwise_study::{ConversionRow, NoiseSource, Pace, Remark, Study, TimeSpread};
use slotwise_terms::input::words::and;
use slotwise_terms::units::{about_milliseconds, about_percent, count};

pub(super) fn tell(look: &TextLook, study: &Study) -> Vec<String> {
    let text = format!(
        "{} and as many readings of each of {} at each resolution, one sensor at a time; power: {}",
        count(study.repeats as usize, "conversion"),
        count(study.sensors.len(), "sensor"),
        supply_word(Some(study.supply))
    );
    let mut lines = vec![look.wrap("measured  ", &text)];
    lines.extend(study.left_out.iter().map(|remark| bad(look, "left out  ", remark)));
    lines.extend(study.failures.iter().map(|failed| {
        let mut text = format!("{}, {}", failed.sensor, name(failed.resolution_bits));
        if let (1.., Some(failure)) = (failed.failed, &failed.failure) {
            text += &format!(": {} failed: {failure}", failed.failed);
        }
        if failed.doubtful > 0 {
            text += &format!(": {} left out, which may be no measurement", count(failed.doubtful as usize, "reading"));
        }
        Ink::Bad.on(look.wrap("failed    ", &text))
    }));
    lines.extend(study.not_restored.iter().map(|remark| bad(look, "settings  ", remark)));
    lines.extend(conversions(look, study));
    lines.extend(noise(look, study));
    lines
}

fn bad(look: &TextLook, first: &str, remark: &Remark) -> String {
    Ink::Bad.on(look.wrap(first, &format!("{}: {}", remark.sensor, remark.text)))
}

fn conversions(look: &TextLook, study: &Study) -> Vec<String> {
    let mut lines: Vec<String> = heading(look, "conversion time in ms").into();
    let columns = ["bits", "part", "sensors", "number", "least", "median", "most", "datasheet", "share"];
    let rows = study.conversions.iter().flat_map(conversion_cells).collect();
    lines.extend(grid(look, &columns, 2, rows));
    lines.push(note(look, "datasheet: the longest that the datasheets allow; share: the longest measured, of that"));
    if let Some(grain_us) = study.conversions.iter().map(|row| row.grain_us).max().filter(|us| *us > 0) {
        let grain = about_milliseconds(grain_us);
        lines.push(note(
            look,
            &format!("each may be too long by up to {grain}, the time between two looks at a busy sensor"),
        ));
    }
    if study.conversions.iter().any(|row| row.pace == Pace::TooSlow) {
        lines.push(Ink::Bad.on(note(look, "TOO SLOW: a conversion took longer than the datasheet allows")));
    }
    if let Some(unwatched) = study.conversions.iter().map(|row| row.unwatched_sensors).max().filter(|count| *count > 0)
    {
        let who = count(unwatched as usize, "sensor");
        let text =
            format!("{who} on parasite power cannot show the end of a conversion: the datasheet max counts for them");
        lines.push(note(look, &text));
    }
    if study.sensors_without_choice() > 0 {
        lines.push(note(
            look,
            "a DS18S20 has no resolution to choose: it converts for up to 750 ms and counts in 1/16 degC, whatever others do",
        ));
    }
    lines
}

/// A row for each part, and one for all if there are several.
fn conversion_cells(row: &ConversionRow) -> Vec<Vec<String>> {
    let sensors: u32 = row.parts.iter().map(|part| part.sensors).sum();
    let all = ("all".to_owned(), sensors, row.measured);
    let parts = row.parts.iter().map(|part| (part.part.clone(), part.sensors, Some(part.measured)));
    let rows: Vec<(String, u32, Option<TimeSpread>)> = match row.parts.len() {
        0 => vec![("not seen".into(), row.unwatched_sensors, None)],
        1 => parts.collect(),
        _ => parts.chain([all]).collect(),
    };
    let cells = rows.into_iter().map(|(part, sensors, times)| {
        let time = |us: fn(TimeSpread) -> u32| times.map_or_else(nothing, |times| milliseconds(us(times).into()));
        vec![
            bits(row.resolution_bits),
            part,
            sensors.to_string(),
            times.map_or_else(nothing, |times| times.number.to_string()),
            time(|times| times.least_us),
            time(|times| times.median_us),
            time(|times| times.most_us),
            exact_milliseconds(row.datasheet_max_us),
            times.map_or_else(nothing, |times| about_percent(times.most_us, row.datasheet_max_us)),
        ]
    });
    cells.collect()
}

fn noise(look: &TextLook, study: &Study) -> Vec<String> {
    let mut lines: Vec<String> = heading(look, "noise of readings at rest, in degC (standard deviation)").into();
    let columns = ["bits", "step", "readings", "seen", "worst sensor", "step / root of 12", "sensors' own"];
    let rows = study.noise.iter().map(|row| {
        vec![
            bits(row.resolution_bits),
            celsius(row.step_celsius),
            row.readings.to_string(),
            row.deviation_celsius.map_or_else(nothing, celsius),
            row.largest_celsius.map_or_else(nothing, celsius),
            celsius(row.quantisation_celsius),
            row.own_celsius.map_or_else(nothing, celsius),
        ]
    });
    lines.extend(grid(look, &columns, 2, rows.collect()));
    for source in [NoiseSource::NotMeasured, NoiseSource::None, NoiseSource::StepsAlone, NoiseSource::Sensors] {
        let who: Vec<String> =
            study.noise.iter().filter(|row| row.source == source).map(|row| name(row.resolution_bits)).collect();
        if !who.is_empty() {
            lines.push(note(look, &format!("{}: {}", and(&who), source_text(source))));
        }
    }
    let error_share = study.noise.iter().filter_map(|row| row.deviation_error_share).reduce(f64::min).unwrap_or(1.0);
    let text = format!(
        "seen is the standard deviation of the differences between a reading and the next of the same sensor, over the root of 2: \
         a slow drift falls out. It is known to {:.0} % at best; more --repeats tell it better. Steps are not accuracy: a DS18B20 may be off by 0.5 degC at any \
         resolution.",
        error_share * 100.0
    );
    lines.push(note(look, &text));
    lines
}

const fn source_text(source: NoiseSource) -> &'static str {
    match source {
        NoiseSource::NotMeasured => "too few readings to say",
        NoiseSource::None => "no reading differed from the one before; noise far below the step hides in it",
        NoiseSource::StepsAlone => {
            "within its error no more than half a step: at the edge of a step the smallest noise does that"
        }
        NoiseSource::Sensors => "more than the step alone; the sensors' own is what is left of the variance",
    }
}
