//! `hil-runner run --store-corrections`: what was found at the ice point goes into the rig file.
//!
//! Only the ice point stores a correction. A steam point shows by how much a sensor is off near 100 degC, which one
//! number that is added everywhere cannot mend.

use std::path::Path;

use chrono::Local;
use slotwise::bus::RomCode;

use super::args::RunArgs;
use super::ask::{Job, Refused};
use super::console::Console;
use super::exit::Exit;
use slotwise_record::{BathState, FixedPointRecord, FixedPointSensor, Record, RunOutcome, StepData, StepRecord};
use slotwise_record::{Check, Ruling};
use slotwise_rig::{Change, Correction, Rig, RigFile, Sensor};
use slotwise_scenario::{Action, Scenario};
use slotwise_terms::fixed_point::{FixedPoint, accuracy_limit};
use slotwise_terms::input::source::is_file_there;
use slotwise_terms::units::{celsius, count, signed_thousandths};

/// Resolution that a correction is found with. Chosen: with less, a reading is cut off by more than most corrections.
const BITS: u8 = 12;

/// A rig file that is to take corrections.
pub(super) struct Store {
    file: RigFile,
}

impl Store {
    /// Opens the rig file for writing, before it is read. `None` without `--store-corrections`.
    pub(super) fn open(console: &Console, args: &RunArgs) -> Result<Option<Self>, Refused> {
        if !args.store_corrections {
            return Ok(None);
        }
        let path = args.rig.rig.as_deref().map(Path::new).filter(|path| is_file_there(path));
        let Some(path) = path else {
            return Err(refuse(
                console,
                "--store-corrections needs a rig file: a built-in rig has none; name a copy of one with --rig",
            ));
        };
        match RigFile::open(path) {
            Ok(file) => Ok(Some(Self { file })),
            Err(error) => Err(refuse(console, &error.to_string())),
        }
    }

    /// Checks that there is something to store, once the files have been read.
    pub(super) fn check(&self, console: &Console, jobs: &[Job]) -> Result<(), Refused> {
        self.file.check().map_err(|error| refuse(console, &error.to_string()))?;
        let [Job { scenario, .. }] = jobs else {
            return Err(refuse(console, "--store-corrections takes one scenario at a time"));
        };
        check_scenario(scenario).map_err(|text| refuse(console, &text))
    }

    /// Stores the corrections that a run has measured, and reports each.
    pub(super) fn store(&self, console: &mut Console, rig: &Rig, record: &Record) -> Exit {
        match record.end.outcome {
            RunOutcome::Broken | RunOutcome::Interrupted => {
                return console.line("no correction is stored: the run did not complete");
            }
            RunOutcome::Passed | RunOutcome::Failed | RunOutcome::Incomplete => {}
        }
        let (corrections, refused) = found(rig, record, &Local::now().format("%Y-%m-%d").to_string());
        let mut exit = Exit::AllMet;
        for text in &refused {
            console.error(text);
            exit = exit.max(Exit::NotAllMet);
        }
        if corrections.is_empty() {
            return exit.max(console.line("no correction is stored: none was measured in a stable ice bath"));
        }
        let changes: Vec<Change> =
            corrections.iter().map(|(rom, correction)| Change::Correction(*rom, correction.clone())).collect();
        if let Err(error) = self.file.store(&changes) {
            console.error(error);
            return exit.max(Exit::BadInput);
        }
        for (rom, correction) in &corrections {
            exit = exit.max(console.line(&correction_line(rig, *rom, correction)));
        }
        let path = self.file.path().display();
        exit.max(console.line(&format!("{} written to {path}", count(corrections.len(), "correction"))))
    }
}

fn refuse(console: &Console, text: &str) -> Refused {
    console.error(text);
    Refused(Exit::BadInput)
}

fn check_scenario(scenario: &Scenario) -> Result<(), String> {
    let points = || {
        scenario.steps.iter().filter_map(|step| match &step.action {
            Action::FixedPoint(check) => Some(check.at),
            _ => None,
        })
    };
    if points().any(|at| at == FixedPoint::IcePoint) {
        return Ok(());
    }
    Err(match points().next() {
        Some(_) => "--store-corrections: only the ice point stores a correction, and this scenario has none".into(),
        None => {
            "--store-corrections needs a step fixed_point = { at = \"ice point\" }, not inside a repetition; there is none"
                .into()
        }
    })
}

fn correction_line(rig: &Rig, rom: RomCode, correction: &Correction) -> String {
    let sensor = rig.inventory.iter().find(|sensor| sensor.rom == rom);
    let label = sensor.map_or_else(|| rom.to_string(), |sensor| sensor.label.clone());
    let before = sensor
        .and_then(|sensor| sensor.correction.as_ref())
        .map_or("none".to_owned(), |before| signed_thousandths(before.millicelsius));
    format!("correction of {label}: {} degC (before: {before})", signed_thousandths(correction.millicelsius))
}

/// The last correction of each sensor that a run has measured, and why some are refused.
fn found(rig: &Rig, record: &Record, date: &str) -> (Vec<(RomCode, Correction)>, Vec<String>) {
    let mut corrections: Vec<(RomCode, Correction)> = Vec::new();
    let mut refused = Vec::new();
    for (step, found) in stable_ice_baths(record) {
        for measured in &found.sensors {
            let Some(sensor) = rig.inventory.iter().find(|sensor| sensor.rom == measured.sensor.rom) else { continue };
            corrections.retain(|(rom, _)| *rom != sensor.rom);
            if let Some(why) = unfit(step, found, sensor, measured) {
                refused.push(format!("no correction of {} is stored: {why}", sensor.label));
                continue;
            }
            let at = Some(found.at.name().to_owned());
            let millicelsius = measured.correction_millicelsius;
            corrections.push((sensor.rom, Correction { millicelsius, at, on: Some(date.to_owned()) }));
        }
    }
    (corrections, refused)
}

fn stable_ice_baths(record: &Record) -> impl Iterator<Item = (&StepRecord, &FixedPointRecord)> {
    record.steps.iter().filter_map(|step| match &step.data {
        StepData::Readings { fixed_point: Some(found), .. }
            if found.at == FixedPoint::IcePoint && found.bath == BathState::Stable =>
        {
            Some((step, found))
        }
        _ => None,
    })
}

/// Why a sensor gets no correction.
fn unfit(step: &StepRecord, found: &FixedPointRecord, sensor: &Sensor, measured: &FixedPointSensor) -> Option<String> {
    let correction = measured.correction_millicelsius;
    match accuracy_limit(sensor.part, found.millicelsius) {
        Some(limit) if correction.unsigned_abs() <= limit.millicelsius => {}
        limit => {
            let source = limit.map_or("its datasheet", |limit| limit.source);
            return Some(format!(
                "it would be {} degC, beyond the accuracy limit ({source}): such a sensor is defective",
                signed_thousandths(correction)
            ));
        }
    }
    if let Some(bits) = measured.resolution_bits.filter(|bits| *bits < BITS) {
        return Some(format!("it was read with {bits} bits of resolution; configure {BITS} before the fixed point"));
    }
    // A correction removes an offset (`Check::Near`); it does not repair any other finding.
    let doubtful = step.verdicts.iter().any(|verdict| {
        verdict.sensor.as_ref() == Some(&measured.sensor)
            && verdict.ruling != Ruling::Met
            && verdict.check != Check::Near
    });
    doubtful.then(|| format!("its readings at {} are not trustworthy", celsius(found.millicelsius)))
}
