//! What was found to have changed, as the history keeps it.

use rusqlite::{Row, params};

use super::error::HistoryError;
use super::store::History;
use super::store::Writing;
use super::store::{choice, word};
use slotwise_past::{FindingRow, FindingState, RunId, Series};

const FINDING: &str =
    "SELECT finding.id, finding.rig, finding.kind, finding.scenario, matter, subject, first_run, last_run,
    coalesce(run.night, date(run.started_us / 1000000, 'unixepoch')), state, text
    FROM finding JOIN run ON run.id = first_run";

impl History {
    /// All findings of a series; those of all series without one. The newest come first.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn findings(&self, series: Option<&Series>) -> Result<Vec<FindingRow>, HistoryError> {
        let (rig, kind, scenario) = match series {
            Some(Series { rig, kind, scenario }) => (Some(rig), Some(kind), Some(scenario)),
            None => (None, None, None),
        };
        let sql = format!(
            "{FINDING} WHERE (?1 IS NULL OR finding.rig = ?1 AND finding.kind = ?2 AND finding.scenario = ?3)
             ORDER BY finding.id DESC"
        );
        self.all(&sql, params![rig, kind, scenario], finding_row)
    }
}

impl Writing<'_> {
    /// Notes a finding that a run showed first.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn open_finding(
        &self,
        series: &Series,
        run: RunId,
        (matter, subject): (&str, &str),
        text: &str,
    ) -> Result<(), HistoryError> {
        let sql = "INSERT INTO finding (rig, kind, scenario, matter, subject, first_run, last_run, state, text)
            VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?6, ?7, ?8)";
        let Series { rig, kind, scenario } = series;
        let state = word(&FindingState::Open);
        self.change(sql, params![rig, kind, scenario, matter, subject, run, state, text]).map(drop)
    }

    /// Notes that a run still showed a finding, and in what words.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn keep_finding(&self, id: i64, run: RunId, text: &str) -> Result<(), HistoryError> {
        self.change("UPDATE finding SET last_run = ?2, text = ?3 WHERE id = ?1", params![id, run, text]).map(drop)
    }

    /// Sets the state of a finding. Returns whether there is one of this number.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn set_finding(&self, id: i64, state: FindingState) -> Result<bool, HistoryError> {
        self.change("UPDATE finding SET state = ?2 WHERE id = ?1", params![id, word(&state)]).map(|rows| rows > 0)
    }

    fn change(&self, sql: &str, parameters: impl rusqlite::Params) -> Result<usize, HistoryError> {
        self.transaction.execute(sql, parameters).map_err(|error| self.fail(error))
    }
}

fn finding_row(row: &Row<'_>) -> rusqlite::Result<FindingRow> {
    let state: String = row.get(9)?;
    Ok(FindingRow {
        id: row.get(0)?,
        series: Series { rig: row.get(1)?, kind: row.get(2)?, scenario: row.get(3)? },
        matter: row.get(4)?,
        subject: row.get(5)?,
        first_run: row.get(6)?,
        last_run: row.get(7)?,
        since: row.get(8)?,
        state: choice(&state).unwrap_or(FindingState::Open),
        text: row.get(10)?,
    })
}
