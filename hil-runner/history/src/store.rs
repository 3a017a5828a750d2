//! The file of a history: opened, brought up to the form of today, and shared by several programs. What belongs together goes in
//! together or not at all, and no other program writes in between.

use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::error::{HistoryError, HistoryTrouble, PATIENCE_S};
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// Marks a database as a history of runs: `SLTW` in ASCII, in the place that SQLite keeps for it.
const APPLICATION_ID: i64 = 0x534C_5457;

/// What brings a file from each form to the next, from an empty one on.
const STEPS: [&str; 1] = [include_str!("schema_1.sql")];

/// Whether a history that is not there is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IfMissing {
    /// It is made.
    Make,
    /// That is an error.
    Refuse,
}

/// A history of runs.
#[derive(Debug)]
pub struct History {
    pub(super) path: PathBuf,
    pub(super) connection: Connection,
}

impl History {
    /// Opens a history. Several programs may have it open and write to it, one after the other.
    ///
    /// # Errors
    /// [`HistoryError`].
    pub fn open(path: &Path, if_missing: IfMissing) -> Result<Self, HistoryError> {
        let fail = |error| HistoryError::of(path, error);
        let is_there = path.metadata().is_ok_and(|metadata| metadata.len() > 0);
        if if_missing == IfMissing::Refuse && !path.exists() {
            return Err(HistoryError::new(path, HistoryTrouble::Missing));
        }
        // Before it is opened: a pipe would wait for another program.
        if path.metadata().is_ok_and(|metadata| !metadata.is_file()) {
            return Err(HistoryError::new(path, HistoryTrouble::NotFile));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags).map_err(fail)?;
        connection.busy_timeout(Duration::from_secs(PATIENCE_S)).map_err(fail)?;
        let mut history = Self { path: path.into(), connection };
        if is_there {
            // Nothing is changed about a file before it is known to be ours.
            history.check_kind()?;
        }
        let set_up = |connection: &Connection| {
            connection.pragma_update(None, "journal_mode", "wal")?;
            // A run that was reported stays reported, even if the power goes.
            connection.pragma_update(None, "synchronous", "full")?;
            connection.pragma_update(None, "foreign_keys", true)
        };
        set_up(&history.connection).map_err(fail)?;
        history.migrate()?;
        Ok(history)
    }

    fn pragma(&self, name: &str) -> Result<i64, HistoryError> {
        self.connection.pragma_query_value(None, name, |row| row.get(0)).map_err(|error| self.fail(error))
    }

    fn check_kind(&self) -> Result<(), HistoryError> {
        let form = self.pragma("user_version")?;
        let id = self.pragma("application_id")?;
        let known = STEPS.len() as i64;
        let is_empty = || -> Result<bool, HistoryError> {
            let tables = "SELECT count(*) FROM sqlite_schema";
            self.connection
                .query_row(tables, [], |row| row.get(0))
                .map(|count: i64| count == 0)
                .map_err(|e| self.fail(e))
        };
        match (id, form) {
            (APPLICATION_ID, form) if form > known => {
                Err(HistoryError::new(&self.path, HistoryTrouble::Newer { found: form, known }))
            }
            (APPLICATION_ID, _) => Ok(()),
            // Another program of ours may have made the file a moment ago.
            (0, 0) if is_empty()? => Ok(()),
            _ => Err(HistoryError::new(&self.path, HistoryTrouble::Foreign)),
        }
    }

    fn migrate(&mut self) -> Result<(), HistoryError> {
        let path = self.path.clone();
        let fail = |error| HistoryError::of(&path, error);
        if self.pragma("user_version")? == STEPS.len() as i64 {
            return Ok(());
        }
        // Of several that come at once, one does it and the others find it done.
        let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(fail)?;
        let form: i64 = transaction.pragma_query_value(None, "user_version", |row| row.get(0)).map_err(fail)?;
        for (step, number) in STEPS.iter().zip(1_i64..).skip(usize::try_from(form).unwrap_or(0)) {
            transaction.execute_batch(step).map_err(fail)?;
            transaction.pragma_update(None, "user_version", number).map_err(fail)?;
        }
        transaction.pragma_update(None, "application_id", APPLICATION_ID).map_err(fail)?;
        transaction.commit().map_err(fail)
    }

    /// Looks through the whole file for damage.
    ///
    /// # Errors
    /// [`HistoryError`] if there is any.
    pub fn check(&self) -> Result<(), HistoryError> {
        let found: String = self
            .connection
            .query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))
            .map_err(|error| self.fail(error))?;
        if found == "ok" {
            return Ok(());
        }
        Err(HistoryError::new(&self.path, HistoryTrouble::Nonsense(found)))
    }

    pub(super) fn fail(&self, error: rusqlite::Error) -> HistoryError {
        HistoryError::of(&self.path, error)
    }
}

/// A history that this program writes to, while all others wait. Dropped without [`keep`](Self::keep) it leaves no trace.
///
/// Questions to it are answered as the history will be once it is kept.
#[derive(Debug)]
pub struct Writing<'h> {
    history: &'h History,
    pub(super) transaction: Transaction<'h>,
}

impl History {
    /// Begins to write, as soon as no other program does.
    ///
    /// # Errors
    /// [`HistoryError`], also if another program does not come to an end.
    pub fn write(&mut self) -> Result<Writing<'_>, HistoryError> {
        let history = &*self;
        // "Unchecked" is whether there is another one: there is none, since this one is borrowed exclusively.
        let transaction = Transaction::new_unchecked(&history.connection, TransactionBehavior::Immediate)
            .map_err(|error| history.fail(error))?;
        Ok(Writing { history, transaction })
    }
}

impl Writing<'_> {
    /// Keeps all that was written.
    ///
    /// # Errors
    /// [`HistoryError`]; then nothing of it is kept.
    pub fn keep(self) -> Result<(), HistoryError> {
        let Self { history, transaction } = self;
        transaction.commit().map_err(|error| history.fail(error))
    }
}

impl Deref for Writing<'_> {
    type Target = History;

    fn deref(&self) -> &History {
        self.history
    }
}

/// The word of a choice without further data, as the record writes it.
pub(super) fn word(choice: &impl Serialize) -> String {
    match serde_json::to_value(choice) {
        Ok(Value::String(word)) => word,
        // Not reached: only plain choices are given to this.
        _ => String::new(),
    }
}

/// The choice of a word.
pub(super) fn choice<T: DeserializeOwned>(word: &str) -> Option<T> {
    serde_json::from_value(Value::String(word.to_owned())).ok()
}
