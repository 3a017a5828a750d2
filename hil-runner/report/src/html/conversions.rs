//! Conversion times, each sensor's own, against the longest that the datasheet allows at its resolution.

use std::collections::BTreeMap;

use super::HtmlError;
use super::page::{Plot, Table};
use crate::plots::{Chart, Curve};
use slotwise_record::{ReadingOutcome, Record, StepData, StepRecord};
use slotwise_study::datasheet::CONVERSION_MAX_US;

/// Lanes of one picture, and dots of a lane where sensors share one.
const MOST_LANES: usize = 40;
const MOST_DOTS: usize = 500;

/// Times by resolution and sensor, in milliseconds; a sensor by its name and its ROM code.
type Times = BTreeMap<(Option<u8>, String, String), Vec<f64>>;

fn gather(step: &StepRecord, times: &mut Times) {
    match &step.data {
        StepData::Readings { readings, .. } => {
            for reading in readings {
                let ReadingOutcome::Read(number) = &reading.outcome else { continue };
                if let Some(busy_us) = reading.busy_us {
                    let name = reading.sensor.label.clone().unwrap_or_else(|| reading.sensor.rom.to_string());
                    times
                        .entry((number.resolution_bits, name, reading.sensor.rom.to_string()))
                        .or_default()
                        .push(f64::from(busy_us) / 1000.0);
                }
            }
        }
        StepData::Rounds(rounds) => {
            rounds.kept.iter().flat_map(|round| &round.steps).for_each(|step| gather(step, times));
        }
        _ => {}
    }
}

/// All sensors of a resolution together, where there are too many for a lane each.
fn by_resolution(times: &Times) -> Times {
    let mut together = Times::new();
    for ((bits, _, _), times) in times {
        together.entry((*bits, "all sensors".into(), String::new())).or_default().extend(times);
    }
    together
}

/// As many of the times as can be distinguished, the shortest and the longest among them.
fn dots(times: &[f64]) -> Vec<f64> {
    let mut sorted = times.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.last().copied();
    let each = sorted.len().div_ceil(MOST_DOTS).max(1);
    sorted.into_iter().step_by(each).chain(last).collect()
}

pub(super) fn plot(record: &Record, id: &str) -> Result<Option<Plot>, HtmlError> {
    let mut times = Times::new();
    record.steps.iter().for_each(|step| gather(step, &mut times));
    if times.is_empty() {
        return Ok(None);
    }
    let is_crowded = times.len() > MOST_LANES;
    let drawn = if is_crowded { by_resolution(&times) } else { times.clone() };
    let lanes: Vec<String> = drawn
        .keys()
        .rev()
        .map(|(bits, name, _)| bits.map_or_else(|| name.clone(), |bits| format!("{name}, {bits} bits")))
        .collect();
    let most = |bits: Option<u8>| {
        // A DS18S20 has no resolution to choose, and the time of 12 bits.
        let bits = bits.unwrap_or(12);
        let place = usize::from(bits).checked_sub(9)?;
        CONVERSION_MAX_US.get(place).map(|us| f64::from(*us) / 1000.0)
    };
    let mut points = Vec::new();
    let mut limits = Vec::new();
    for (((bits, _, _), times), lane) in drawn.iter().rev().zip(0_u32..) {
        let lane = f64::from(lane);
        points.extend(dots(times).into_iter().map(|ms| (ms, lane)));
        limits.extend(most(*bits).map(|ms| vec![(ms, lane - 0.35), (ms, lane + 0.35)]));
    }
    let chart = Chart {
        id: format!("{id}-conversions"),
        title: "Conversion times".into(),
        description:
            "Each dot is a conversion that was watched alone; the upright strokes are the longest time of the \
                      datasheet at that resolution. The numbers are in the table below."
                .into(),
        x_name: "ms".into(),
        curves: vec![
            Curve { name: "longest time of the datasheet".into(), look: 1, lines: limits, points: Vec::new() },
            Curve { name: "measured".into(), look: 0, lines: Vec::new(), points },
        ],
        lanes,
        ..Chart::default()
    };
    let rows = times.iter().map(|((bits, name, rom), times)| {
        let least = times.iter().copied().fold(f64::INFINITY, f64::min);
        let longest = times.iter().copied().fold(0.0, f64::max);
        vec![
            name.clone(),
            rom.clone(),
            bits.map_or("fixed".into(), |bits| bits.to_string()),
            times.len().to_string(),
            format!("{least:.1} ms"),
            format!("{longest:.1} ms"),
            most(*bits).map_or("none".into(), |ms| format!("{ms} ms")),
        ]
    });
    let heading = ["Sensor", "ROM code", "Bits", "Conversions", "Shortest", "Longest", "At most, by the datasheet"];
    let table = Table {
        caption: "Conversion times of each sensor at each resolution".into(),
        heading: heading.map(str::to_owned).into(),
        rows: rows.collect(),
    };
    let mut note = "Limits: DS18B20 datasheet (7/19), AC Electrical Characteristics, tCONV.".to_owned();
    if is_crowded {
        note.push_str(" All sensors of a resolution share a lane; each has a row in the table.");
    }
    Ok(Some(Plot { heading: chart.title.clone(), svg: chart.svg()?, legend: chart.legend(), note, table }))
}
