//! A run goes into the history, and never twice.

use std::collections::BTreeMap;
use std::path::Path;

use chrono::DateTime;
use rusqlite::{OptionalExtension, Transaction, params};
use slotwise::bus::RomCode;

use super::error::HistoryError;
use super::extract::figures;
use super::store::Writing;
use super::store::word;
use slotwise_past::{RunId, Series};
use slotwise_record::Verdict;
use slotwise_record::{ReadingOutcome, ReadingRecord, Record, StepData, StepRecord, Tally};
use slotwise_rig::reply::{LineRecord, SpreadRecord};

/// Verdicts that are kept of one run: a rig on which everything fails must not fill the disk.
const MOST_VERDICTS: i64 = 1_000;

/// What became of a run that was to be added.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Added {
    /// It is in the history now.
    New(RunId),
    /// It was there already.
    Known(RunId),
}

impl Added {
    /// Its number.
    #[must_use]
    pub const fn id(self) -> RunId {
        match self {
            Self::New(id) | Self::Known(id) => id,
        }
    }
}

/// The night and the folder that a run comes from.
#[derive(Clone, Copy, Debug, Default)]
pub struct RunPlace<'a> {
    /// The night, if it was one of a night's runs.
    pub night: Option<&'a str>,
    /// The folder with its results.
    pub folder: Option<&'a Path>,
}

impl Writing<'_> {
    /// Adds a run without assessing it.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn add(&self, record: &Record, place: RunPlace<'_>) -> Result<Added, HistoryError> {
        add(&self.transaction, record, place).map_err(|error| self.fail(error))
    }
}

fn add(transaction: &Transaction<'_>, record: &Record, place: RunPlace<'_>) -> rusqlite::Result<Added> {
    let series = Series::of(record);
    let started_us = started_us(record);
    let seed = record.seed.to_string();
    let known: Option<RunId> = transaction
        .query_row(
            "SELECT id FROM run WHERE started_us = ?1 AND rig = ?2 AND kind = ?3 AND scenario = ?4 AND seed = ?5",
            params![started_us, series.rig, series.kind, series.scenario, seed],
            |row| row.get(0),
        )
        .optional()?;
    if let Some(id) = known {
        return Ok(Added::Known(id));
    }
    let tally = record.tally();
    transaction.execute(
        "INSERT INTO run (started_us, night, rig, kind, scenario, seed, tool, driver, firmware, chip, carrier, core_hz,
             outcome, breakage, ended_ns, met, not_met, cannot_tell, folder)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19)",
        params![
            started_us,
            place.night,
            series.rig,
            series.kind,
            series.scenario,
            seed,
            format!("{} {}", record.tool.name, record.tool.version),
            format!("{} {}", record.driver.name, record.driver.version),
            record.bridge.firmware,
            record.bridge.chip,
            word(&record.bridge.carrier),
            record.bridge.core_hz,
            word(&record.end.outcome),
            record.end.breakage.as_ref().map(|breakage| &breakage.text),
            signed(record.end.at_ns),
            tally.met,
            tally.not_met,
            tally.cannot_tell,
            place.folder.map(|folder| folder.to_string_lossy().into_owned()),
        ],
    )?;
    let run = transaction.last_insert_rowid();
    let mut rest = Rest { transaction, run, readings: 0, verdicts: 0, sensors: BTreeMap::new() };
    for step in &record.steps {
        rest.step(step)?;
        rest.inside(step)?;
    }
    rest.sum_up(record)?;
    let mut insert = transaction.prepare_cached(
        "INSERT INTO figure (run, kind, subject, value, tries, grain) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?;
    for figure in figures(record) {
        let subject = figure.subject.to_string();
        insert.execute(params![run, figure.kind.name(), subject, figure.value, signed(figure.of), figure.grain])?;
    }
    Ok(Added::New(run))
}

/// When a run began. Every record that was read has a time; another one is taken for the beginning of time.
fn started_us(record: &Record) -> i64 {
    DateTime::parse_from_rfc3339(&record.started_at).map_or(0, |time| time.timestamp_micros())
}

/// SQLite has no unsigned numbers. Times of 292 years in nanoseconds do not occur.
fn signed(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

/// All of one sensor in a run.
#[derive(Debug, Default)]
struct OfSensor {
    readings: u32,
    failed: u32,
    doubted: u32,
    sum_sixteenths: i64,
    least: Option<i16>,
    most: Option<i16>,
    last: Option<i16>,
}

impl OfSensor {
    /// A number without a doubt.
    fn trusted(&mut self, sixteenths: i16) {
        self.sum_sixteenths += i64::from(sixteenths);
        self.least = Some(self.least.map_or(sixteenths, |least| least.min(sixteenths)));
        self.most = Some(self.most.map_or(sixteenths, |most| most.max(sixteenths)));
        self.last = Some(sixteenths);
    }
}

/// What belongs to a run that has its number.
struct Rest<'t> {
    transaction: &'t Transaction<'t>,
    run: RunId,
    readings: i64,
    verdicts: i64,
    sensors: BTreeMap<RomCode, (i64, OfSensor)>,
}

impl Rest<'_> {
    fn step(&self, step: &StepRecord) -> rusqlite::Result<()> {
        let tally = Tally::of(&step.verdicts);
        let line = step.line_report.unwrap_or_default();
        let LineRecord {
            resets,
            slots,
            busy_us,
            idle_high,
            rise_ns,
            presence_delay_ns,
            presence_width_ns,
            grain_ns,
            ..
        } = line;
        let least = |spread: Option<SpreadRecord>| spread.map(|spread| spread.least);
        let most = |spread: Option<SpreadRecord>| spread.map(|spread| spread.most);
        let measured = |number: u64| step.line_report.map(|_| signed(number));
        let mut insert = self.transaction.prepare_cached(
            "INSERT INTO step VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19,
                 ?20, ?21)",
        )?;
        insert.execute(params![
            self.run,
            step.place.first().copied().unwrap_or(0),
            step.label,
            word(&step.outcome),
            step.reason,
            signed(step.started_ns),
            signed(step.ended_ns),
            tally.met,
            tally.not_met,
            tally.cannot_tell,
            measured(resets),
            measured(slots),
            measured(busy_us),
            idle_high,
            least(rise_ns),
            most(rise_ns),
            least(presence_delay_ns),
            most(presence_delay_ns),
            least(presence_width_ns),
            most(presence_width_ns),
            measured(grain_ns.into()),
        ])?;
        Ok(())
    }

    /// Readings and verdicts of a step, and of the rounds that were kept of it.
    fn inside(&mut self, step: &StepRecord) -> rusqlite::Result<()> {
        let place = place_text(&step.place);
        for verdict in step.verdicts.iter().filter(|verdict| !verdict.is_met()) {
            self.verdict(&place, verdict)?;
        }
        match &step.data {
            StepData::Readings { readings, .. } => {
                for reading in readings {
                    self.reading(&place, reading)?;
                }
            }
            StepData::Rounds(rounds) => {
                for step in rounds.kept.iter().flat_map(|round| &round.steps) {
                    self.inside(step)?;
                }
            }
            StepData::Search { found, .. } => {
                for sensor in found {
                    self.sensor(sensor.sensor.rom)?;
                }
            }
            StepData::Nothing
            | StepData::Settings { .. }
            | StepData::FaultInjected { .. }
            | StepData::FaultCleared { .. } => {}
        }
        Ok(())
    }

    fn verdict(&mut self, place: &str, verdict: &Verdict) -> rusqlite::Result<()> {
        if self.verdicts >= MOST_VERDICTS {
            return Ok(());
        }
        self.verdicts += 1;
        let number = self.verdicts;
        let sensor = verdict.sensor.as_ref().map(|sensor| self.sensor(sensor.rom).map(|(id, _)| *id)).transpose()?;
        let Verdict { check, expected, source, got, ruling, .. } = verdict;
        let mut insert =
            self.transaction.prepare_cached("INSERT INTO verdict VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)")?;
        insert.execute(params![self.run, number, place, sensor, word(ruling), word(check), expected, source, got])?;
        Ok(())
    }

    fn reading(&mut self, place: &str, reading: &ReadingRecord) -> rusqlite::Result<()> {
        self.readings += 1;
        let number = self.readings;
        let (id, of) = self.sensor(reading.sensor.rom)?;
        let id = *id;
        of.readings += 1;
        let (sixteenths, failure, bits, doubts) = match &reading.outcome {
            ReadingOutcome::Read(read) => {
                if read.doubts.is_empty() {
                    of.trusted(read.sixteenths);
                }
                let doubts: Vec<String> = read.doubts.iter().map(ToString::to_string).collect();
                of.doubted += u32::from(!doubts.is_empty());
                (Some(read.sixteenths), None, read.resolution_bits, doubts.join("; "))
            }
            ReadingOutcome::Failed(failure) => {
                of.failed += 1;
                (None, Some(word(&failure.kind)), None, String::new())
            }
        };
        let mut insert =
            self.transaction.prepare_cached("INSERT INTO reading VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)")?;
        let at_ns = signed(reading.at_ns);
        insert.execute(params![
            self.run,
            number,
            place,
            id,
            at_ns,
            sixteenths,
            failure,
            bits,
            reading.busy_us,
            doubts
        ])?;
        Ok(())
    }

    /// The number of a sensor, and what is known of it in this run.
    fn sensor(&mut self, rom: RomCode) -> rusqlite::Result<&mut (i64, OfSensor)> {
        use std::collections::btree_map::Entry;
        match self.sensors.entry(rom) {
            Entry::Occupied(entry) => Ok(entry.into_mut()),
            Entry::Vacant(entry) => {
                let text = rom.to_string();
                let mut insert = self.transaction.prepare_cached("INSERT OR IGNORE INTO sensor (rom) VALUES (?1)")?;
                insert.execute([&text])?;
                let mut select = self.transaction.prepare_cached("SELECT id FROM sensor WHERE rom = ?1")?;
                let id = select.query_row([&text], |row| row.get(0))?;
                Ok(entry.insert((id, OfSensor::default())))
            }
        }
    }

    fn sum_up(&mut self, record: &Record) -> rusqlite::Result<()> {
        for sensor in &record.rig.inventory {
            self.sensor(sensor.rom)?;
        }
        let mut insert = self
            .transaction
            .prepare_cached("INSERT INTO sensor_in_run VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)")?;
        for (rom, (id, of)) in &self.sensors {
            let label = record.rig.inventory.iter().find(|sensor| sensor.rom == *rom).map(|sensor| &sensor.label);
            let numbers = of.readings - of.failed - of.doubted;
            let mean = (numbers > 0).then(|| of.sum_sixteenths as f64 * 62.5 / f64::from(numbers));
            insert.execute(params![
                id,
                self.run,
                label,
                of.readings,
                of.failed,
                of.doubted,
                mean,
                of.least,
                of.most,
                of.last
            ])?;
        }
        Ok(())
    }
}

fn place_text(place: &[u32]) -> String {
    let numbers: Vec<String> = place.iter().map(ToString::to_string).collect();
    numbers.join(".")
}
