//! The readings of a run, sensor by sensor, over the time of the rig.

use std::collections::BTreeMap;

use super::HtmlError;
use super::page::{Plot, Table};
use crate::plots::thin;
use crate::plots::{Chart, Curve};
use slotwise_record::Subject;
use slotwise_record::{ReadingOutcome, Record, StepData, StepRecord};
use slotwise_rig::{Fault, FaultKind};
use slotwise_terms::units::celsius_of_sixteenths;

/// Sensors of one picture. More cannot be distinguished.
const CURVES: usize = 16;

/// All of one sensor.
#[derive(Default)]
struct OfSensor {
    name: String,
    rom: String,
    /// Seconds and degrees, in pieces: a reading that failed or is doubted ends one.
    pieces: Vec<Vec<(f64, f64)>>,
    readings: u32,
    failed: u32,
    doubted: u32,
    numbers: Vec<i16>,
}

impl OfSensor {
    fn gap(&mut self) {
        if self.pieces.last().is_some_and(|piece| !piece.is_empty()) {
            self.pieces.push(Vec::new());
        }
    }
}

/// What was gathered on the way through the steps.
#[derive(Default)]
struct Walk {
    sensors: BTreeMap<String, OfSensor>,
    faults: Vec<(FaultKind, f64)>,
    shades: Vec<(f64, f64)>,
}

fn seconds(ns: u64) -> f64 {
    ns as f64 / 1e9
}

impl Walk {
    fn step(&mut self, step: &StepRecord) {
        match &step.data {
            StepData::Readings { readings, .. } => {
                for reading in readings {
                    self.reading(&reading.sensor, seconds(reading.at_ns), &reading.outcome);
                }
            }
            StepData::Rounds(rounds) => {
                rounds.kept.iter().flat_map(|round| &round.steps).for_each(|step| self.step(step));
            }
            StepData::FaultInjected { fault: Fault::BrownOut { .. } } => {
                self.shades.push((seconds(step.started_ns), seconds(step.ended_ns)));
            }
            StepData::FaultInjected { fault } => self.faults.push((fault.kind(), seconds(step.started_ns))),
            StepData::FaultCleared { fault } => {
                let (cleared, standing) =
                    std::mem::take(&mut self.faults).into_iter().partition(|(kind, _)| kind == fault);
                self.faults = standing;
                let cleared: Vec<(FaultKind, f64)> = cleared;
                self.shades.extend(cleared.into_iter().map(|(_, since)| (since, seconds(step.ended_ns))));
            }
            StepData::Nothing | StepData::Search { .. } | StepData::Settings { .. } => {}
        }
    }

    fn reading(&mut self, sensor: &Subject, at_s: f64, outcome: &ReadingOutcome) {
        let of = self.sensors.entry(sensor.rom.to_string()).or_default();
        of.rom = sensor.rom.to_string();
        of.name = sensor.label.clone().unwrap_or_else(|| sensor.rom.to_string());
        of.readings += 1;
        match outcome {
            ReadingOutcome::Read(number) if number.doubts.is_empty() => {
                if of.pieces.is_empty() {
                    of.pieces.push(Vec::new());
                }
                let piece = of.pieces.last_mut().expect("one was put there");
                piece.push((at_s, f64::from(number.sixteenths) / 16.0));
                of.numbers.push(number.sixteenths);
            }
            ReadingOutcome::Read(_) => {
                of.doubted += 1;
                of.gap();
            }
            ReadingOutcome::Failed(_) => {
                of.failed += 1;
                of.gap();
            }
        }
    }
}

pub(super) fn plot(record: &Record, id: &str) -> Result<Option<Plot>, HtmlError> {
    let mut walk = Walk::default();
    record.steps.iter().for_each(|step| walk.step(step));
    if walk.sensors.is_empty() {
        return Ok(None);
    }
    let end = seconds(record.end.at_ns);
    walk.shades.extend(std::mem::take(&mut walk.faults).into_iter().map(|(_, since)| (since, end)));
    // In the order of the inventory; strangers behind.
    let mut sensors: Vec<(usize, OfSensor)> = walk
        .sensors
        .into_iter()
        .map(|(rom, of)| {
            let place = record.rig.inventory.iter().position(|sensor| sensor.rom.to_string() == rom);
            (place.unwrap_or(usize::MAX), of)
        })
        .collect();
    sensors.sort_by_key(|(place, _)| *place);
    let left_out = sensors.len().saturating_sub(CURVES);
    let curves: Vec<Curve> = sensors.iter().take(CURVES).enumerate().map(|(look, (_, of))| curve(look, of)).collect();
    let chart = Chart {
        id: format!("{id}-readings"),
        title: "Readings over the run".into(),
        description: "Temperature of each sensor over the time of the rig. The numbers are in the table below.".into(),
        x_name: "time of the rig, s".into(),
        y_name: "degC".into(),
        curves,
        shades: walk.shades.clone(),
        ..Chart::default()
    };
    let mut note = "A line ends where a reading failed or is doubted; single readings are dots. Of many readings the lowest and the highest \
                    of each stretch are drawn; rounds that the record did not keep are not."
        .to_owned();
    if !walk.shades.is_empty() {
        note.push_str(" Shaded: a fault that the scenario injects.");
    }
    if left_out > 0 {
        note.push_str(&format!(" {left_out} more sensors are in the table only."));
    }
    let heading = ["Sensor", "ROM code", "Readings", "Failed", "Doubted", "Lowest", "Highest", "Last"];
    let table = Table {
        caption: "Readings of each sensor; those with a doubt are counted, and in no other column".into(),
        heading: heading.map(str::to_owned).into(),
        rows: sensors.iter().map(|(_, of)| row(of)).collect(),
    };
    Ok(Some(Plot { heading: chart.title.clone(), svg: chart.svg()?, legend: chart.legend(), note, table }))
}

fn curve(look: usize, of: &OfSensor) -> Curve {
    let (lines, single): (Vec<_>, Vec<_>) =
        of.pieces.iter().filter(|piece| !piece.is_empty()).map(|piece| thin(piece)).partition(|piece| piece.len() > 1);
    Curve { name: of.name.clone(), look, lines, points: thin(&single.into_iter().flatten().collect::<Vec<_>>()) }
}

fn row(of: &OfSensor) -> Vec<String> {
    let number = |sixteenths: Option<&i16>| {
        sixteenths.map_or("none".into(), |sixteenths| celsius_of_sixteenths((*sixteenths).into()))
    };
    vec![
        of.name.clone(),
        of.rom.clone(),
        of.readings.to_string(),
        of.failed.to_string(),
        of.doubted.to_string(),
        number(of.numbers.iter().min()),
        number(of.numbers.iter().max()),
        number(of.numbers.last()),
    ]
}
