//! Runs, readings and figures for other programs, row by row: however long the history is, only one row is in memory.

use rusqlite::params;
use rusqlite::types::ValueRef;

use super::error::HistoryError;
use super::query::Which;
use super::store::History;
use super::store::word;

/// What is exported.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Export {
    /// Runs.
    Runs,
    /// Readings.
    Readings,
    /// Figures.
    Figures,
}

/// One value of a row.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// There is none.
    Nothing,
    /// A whole number.
    Whole(i64),
    /// Another number.
    Number(f64),
    /// A text.
    Text(String),
}

const OF_RUN: &str =
    "run.id AS run, strftime('%Y-%m-%dT%H:%M:%fZ', run.started_us / 1000000.0, 'unixepoch') AS started_at, night,
    rig, run.kind AS rig_kind, scenario";

impl Export {
    fn sql(self) -> String {
        let (columns, tables) = match self {
            Self::Runs => (
                "seed, tool, driver, firmware, chip, carrier, core_hz, outcome, breakage, ended_ns, met, not_met, cannot_tell, \
                 folder",
                "run",
            ),
            Self::Readings => (
                "place, rom, (SELECT label FROM sensor_in_run AS named WHERE named.run = run.id AND named.sensor = sensor.id) \
                 AS label, at_ns, sixteenths / 16.0 AS celsius, failure, resolution_bits, busy_us, doubts",
                "run JOIN reading ON reading.run = run.id JOIN sensor ON sensor.id = reading.sensor",
            ),
            Self::Figures => {
                ("figure.kind AS figure, subject, value, tries AS of", "run JOIN figure ON figure.run = run.id")
            }
        };
        format!(
            "SELECT {OF_RUN}, {columns} FROM {tables} WHERE (?1 IS NULL OR rig = ?1) AND (?2 IS NULL OR scenario = ?2)
             AND (?3 IS NULL OR night = ?3) AND (?4 IS NULL OR outcome = ?4) ORDER BY run.id"
        )
    }
}

/// Why an export ended early.
#[derive(Debug, thiserror::Error)]
pub enum ExportError<E> {
    /// The history failed.
    #[error(transparent)]
    History(#[from] HistoryError),
    /// The receiver of the rows failed.
    #[error("{0}")]
    Taker(E),
}

impl History {
    /// Hands the names of the columns to `take`, and then each row. Runs come from the oldest on.
    ///
    /// # Errors
    /// [`ExportError`].
    pub fn export<E>(
        &self,
        what: Export,
        which: &Which,
        mut take: impl FnMut(&[String], Option<&[Cell]>) -> Result<(), E>,
    ) -> Result<(), ExportError<E>> {
        let fail = |error| ExportError::History(self.fail(error));
        let mut statement = self.connection.prepare(&what.sql()).map_err(fail)?;
        let names: Vec<String> = statement.column_names().map(str::to_owned).collect();
        take(&names, None).map_err(ExportError::Taker)?;
        let Which { rig, scenario, night, outcome, .. } = which;
        let mut rows = statement.query(params![rig, scenario, night, outcome.as_ref().map(word)]).map_err(fail)?;
        while let Some(row) = rows.next().map_err(fail)? {
            let cells: Result<Vec<Cell>, _> =
                (0..names.len()).map(|column| row.get_ref(column).map(Cell::of)).collect();
            take(&names, Some(&cells.map_err(fail)?)).map_err(ExportError::Taker)?;
        }
        Ok(())
    }
}

impl Cell {
    fn of(value: ValueRef<'_>) -> Self {
        match value {
            ValueRef::Null => Self::Nothing,
            ValueRef::Integer(number) => Self::Whole(number),
            ValueRef::Real(number) => Self::Number(number),
            ValueRef::Text(text) | ValueRef::Blob(text) => Self::Text(String::from_utf8_lossy(text).into_owned()),
        }
    }
}
