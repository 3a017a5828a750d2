//! Questions to a history.

use chrono::{DateTime, SecondsFormat};
use rusqlite::{OptionalExtension, Row, params};

use super::error::{HistoryError, HistoryTrouble};
use super::store::History;
use super::store::{choice, word};
use slotwise_past::{
    Figure, FigureKind, FigureSubject, KnownSensor, PastFigure, PastStep, RunDetail, RunId, RunRow, SensorDay,
    SensorRow, Series, SeriesPast, StepRow, VerdictRow,
};
use slotwise_record::RunOutcome;

/// Which runs are meant. What is not said does not matter.
#[derive(Clone, Debug, Default)]
pub struct Which {
    /// Of the rig of this name.
    pub rig: Option<String>,
    /// Of the scenario of this name.
    pub scenario: Option<String>,
    /// Of this night.
    pub night: Option<String>,
    /// With this outcome.
    pub outcome: Option<RunOutcome>,
    /// At most so many, the newest.
    pub most: Option<u32>,
}

const RUN: &str =
    "SELECT id, started_us, night, rig, kind, scenario, seed, tool, driver, firmware, chip, outcome, breakage,
    ended_ns, met, not_met, cannot_tell, folder FROM run";

const WHICH: &str = "(?1 IS NULL OR rig = ?1) AND (?2 IS NULL OR scenario = ?2) AND (?3 IS NULL OR night = ?3)
    AND (?4 IS NULL OR outcome = ?4)";

impl History {
    /// The newest runs first.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn runs(&self, which: &Which) -> Result<Vec<RunRow>, HistoryError> {
        let Which { rig, scenario, night, outcome, most } = which;
        let sql = format!("{RUN} WHERE {WHICH} ORDER BY id DESC LIMIT ?5");
        let most = most.map_or(-1, i64::from);
        self.all(&sql, params![rig, scenario, night, outcome.as_ref().map(word), most], run_row)
    }

    /// How many runs there are.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn count(&self) -> Result<u64, HistoryError> {
        self.connection
            .query_row("SELECT count(*) FROM run", [], |row| row.get::<_, i64>(0))
            .map(i64::unsigned_abs)
            .map_err(|error| self.fail(error))
    }

    /// One run with all that is kept of it.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn run(&self, id: RunId) -> Result<Option<RunDetail>, HistoryError> {
        let found = self.connection.query_row(&format!("{RUN} WHERE id = ?1"), [id], run_row).optional();
        let Some(run) = found.map_err(|error| self.fail(error))? else { return Ok(None) };
        let steps = self.all(
            "SELECT number, label, outcome, reason, ended_ns - started_ns, met, not_met, cannot_tell FROM step
             WHERE run = ?1 ORDER BY number",
            [id],
            step_row,
        )?;
        let verdicts = self.all(
            "SELECT place, rom, ruling, subject, expected, source, got FROM verdict LEFT JOIN sensor ON sensor.id = sensor
             WHERE run = ?1 ORDER BY number",
            [id],
            verdict_row,
        )?;
        let sensors = self.all(
            "SELECT rom, label, readings, failed, doubted, mean_millicelsius, least_sixteenths, most_sixteenths
             FROM sensor_in_run JOIN sensor ON sensor.id = sensor WHERE run = ?1 ORDER BY label IS NULL, sensor.id",
            [id],
            |row| sensor_row(row, 0),
        )?;
        let figures =
            self.all("SELECT run, kind, subject, value, tries, grain FROM figure WHERE run = ?1", [id], past_figure)?;
        let figures = figures.into_iter().map(|past| past.figure).collect();
        Ok(Some(RunDetail { run, steps, verdicts, sensors, figures }))
    }

    /// The runs of a series before another, from the oldest, at most so many.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn past(&self, series: &Series, before: RunId, most: u32) -> Result<Vec<RunRow>, HistoryError> {
        let sql = format!(
            "SELECT * FROM ({RUN} WHERE rig = ?1 AND kind = ?2 AND scenario = ?3 AND id < ?4 ORDER BY id DESC LIMIT ?5)
             ORDER BY id"
        );
        self.all(&sql, params![series.rig, series.kind, series.scenario, before, most], run_row)
    }

    /// All figures of the runs of a series between two, both included, from the oldest.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn past_figures(&self, series: &Series, first: RunId, last: RunId) -> Result<Vec<PastFigure>, HistoryError> {
        self.all(
            "SELECT run, figure.kind, subject, value, tries, grain FROM run JOIN figure ON run = id
             WHERE rig = ?1 AND run.kind = ?2 AND scenario = ?3 AND id BETWEEN ?4 AND ?5 ORDER BY id",
            params![series.rig, series.kind, series.scenario, first, last],
            past_figure,
        )
    }

    /// A run and those of its series before it, at most so many together.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn series_past(&self, run: RunId, most: u32) -> Result<SeriesPast, HistoryError> {
        let series = self.series(run)?;
        let runs = self.past(&series, run + 1, most)?;
        let first = runs.first().map_or(run, |row| row.id);
        let figures = self.past_figures(&series, first, run)?;
        Ok(SeriesPast { runs, figures, findings: self.findings(Some(&series))? })
    }

    /// The outcomes of all steps of the runs of a series between two, both included, from the oldest.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn past_steps(&self, series: &Series, first: RunId, last: RunId) -> Result<Vec<PastStep>, HistoryError> {
        self.all(
            "SELECT run, label, step.outcome FROM run JOIN step ON run = id
             WHERE rig = ?1 AND kind = ?2 AND scenario = ?3 AND id BETWEEN ?4 AND ?5 ORDER BY id, number",
            params![series.rig, series.kind, series.scenario, first, last],
            |row| Ok(PastStep { run: row.get(0)?, label: row.get(1)?, outcome: parsed(row, 2)? }),
        )
    }

    /// The sensors of this label or ROM code; all sensors without one.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn sensors(&self, name: Option<&str>) -> Result<Vec<KnownSensor>, HistoryError> {
        let latest = "(SELECT label FROM sensor_in_run WHERE sensor = sensor.id ORDER BY run DESC LIMIT 1)";
        let row = |row: &Row<'_>| Ok(KnownSensor { rom: row.get(0)?, label: row.get(1)? });
        match name {
            None => self.all(&format!("SELECT rom, {latest} FROM sensor ORDER BY id"), [], row),
            Some(name) => self.all(
                &format!(
                    "SELECT rom, {latest} FROM sensor WHERE rom = ?1
                         OR EXISTS (SELECT 1 FROM sensor_in_run WHERE label = ?1 AND sensor = sensor.id) ORDER BY id"
                ),
                [name],
                row,
            ),
        }
    }

    /// A sensor from day to day: at most so many days, and no further back from its last run; the oldest first.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn follow(&self, rom: &str, most: u32) -> Result<Vec<SensorDay>, HistoryError> {
        self.all(include_str!("follow.sql"), params![rom, most], |row| {
            Ok(SensorDay {
                day: row.get(0)?,
                runs: row.get(1)?,
                sensor: sensor_row(row, 2)?,
                from_neighbours_millicelsius: row.get(10)?,
                conversion_us: row.get(11)?,
            })
        })
    }

    pub(super) fn all<T>(
        &self,
        sql: &str,
        parameters: impl rusqlite::Params,
        row: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, HistoryError> {
        let ask = || -> rusqlite::Result<Vec<T>> {
            self.connection.prepare_cached(sql)?.query_map(parameters, row)?.collect()
        };
        ask().map_err(|error| self.fail(error))
    }

    /// The night, or else the date, of a run.
    ///
    /// # Errors
    /// [`HistoryError`], also if there is no such run.
    pub fn day(&self, id: RunId) -> Result<String, HistoryError> {
        let sql = "SELECT coalesce(night, date(started_us / 1000000, 'unixepoch')) FROM run WHERE id = ?1";
        self.connection.query_row(sql, [id], |row| row.get(0)).map_err(|error| self.fail(error))
    }

    /// The series of a run.
    ///
    /// # Errors
    /// [`HistoryError`], also if there is no such run.
    pub fn series(&self, id: RunId) -> Result<Series, HistoryError> {
        let row = |row: &Row<'_>| Ok(Series { rig: row.get(0)?, kind: row.get(1)?, scenario: row.get(2)? });
        let found =
            self.connection.query_row("SELECT rig, kind, scenario FROM run WHERE id = ?1", [id], row).optional();
        found.map_err(|error| self.fail(error))?.ok_or_else(|| {
            HistoryError::new(&self.path, HistoryTrouble::Nonsense(format!("a run with the number {id}")))
        })
    }
}

/// A word of the record, read back.
fn parsed<T: serde::de::DeserializeOwned>(row: &Row<'_>, column: usize) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    choice(&text).ok_or_else(|| nonsense(column, &text))
}

fn nonsense(column: usize, text: &str) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, format!("{text:?}").into())
}

/// A time as people and programs read it.
fn time_text(us: i64) -> String {
    DateTime::from_timestamp_micros(us).unwrap_or_default().to_rfc3339_opts(SecondsFormat::Secs, true)
}

fn run_row(row: &Row<'_>) -> rusqlite::Result<RunRow> {
    Ok(RunRow {
        id: row.get(0)?,
        started_at: time_text(row.get(1)?),
        night: row.get(2)?,
        series: Series { rig: row.get(3)?, kind: row.get(4)?, scenario: row.get(5)? },
        seed: row.get(6)?,
        tool: row.get(7)?,
        driver: row.get(8)?,
        firmware: row.get(9)?,
        chip: row.get(10)?,
        outcome: parsed(row, 11)?,
        breakage: row.get(12)?,
        ended_ns: row.get(13)?,
        met: row.get(14)?,
        not_met: row.get(15)?,
        cannot_tell: row.get(16)?,
        folder: row.get(17)?,
    })
}

fn step_row(row: &Row<'_>) -> rusqlite::Result<StepRow> {
    Ok(StepRow {
        number: row.get(0)?,
        label: row.get(1)?,
        outcome: parsed(row, 2)?,
        reason: row.get(3)?,
        took_ns: row.get(4)?,
        met: row.get(5)?,
        not_met: row.get(6)?,
        cannot_tell: row.get(7)?,
    })
}

fn verdict_row(row: &Row<'_>) -> rusqlite::Result<VerdictRow> {
    Ok(VerdictRow {
        place: row.get(0)?,
        rom: row.get(1)?,
        ruling: row.get(2)?,
        check: row.get(3)?,
        expected: row.get(4)?,
        source: row.get(5)?,
        got: row.get(6)?,
    })
}

fn sensor_row(row: &Row<'_>, first: usize) -> rusqlite::Result<SensorRow> {
    Ok(SensorRow {
        rom: row.get(first)?,
        label: row.get(first + 1)?,
        readings: row.get(first + 2)?,
        failed: row.get(first + 3)?,
        doubted: row.get(first + 4)?,
        mean_millicelsius: row.get(first + 5)?,
        least_sixteenths: row.get(first + 6)?,
        most_sixteenths: row.get(first + 7)?,
    })
}

fn past_figure(row: &Row<'_>) -> rusqlite::Result<PastFigure> {
    let (kind, subject): (String, String) = (row.get(1)?, row.get(2)?);
    let figure = Figure {
        kind: FigureKind::of_name(&kind).ok_or_else(|| nonsense(1, &kind))?,
        subject: FigureSubject::parse(&subject).ok_or_else(|| nonsense(2, &subject))?,
        value: row.get(3)?,
        of: row.get::<_, i64>(4)?.unsigned_abs(),
        grain: row.get(5)?,
    };
    Ok(PastFigure { run: row.get(0)?, figure })
}
