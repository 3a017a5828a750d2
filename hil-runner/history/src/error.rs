//! What can go wrong with a history, and what to do about it.

use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

use slotwise_terms::files::shortage;

/// Why a history cannot be used.
///
/// Whatever was reported of a run lies in its `record.json` as well, so a history that is lost can be made anew.
#[derive(Debug, thiserror::Error)]
#[error("history {}: {trouble}", path.display())]
pub struct HistoryError {
    /// The file.
    pub path: PathBuf,
    /// What is wrong.
    pub trouble: HistoryTrouble,
}

/// What is wrong with a history.
#[derive(Debug, thiserror::Error)]
pub enum HistoryTrouble {
    /// There is none, and none is to be made.
    #[error("there is none")]
    Missing,
    /// It is a folder, a pipe or a device.
    #[error("expected a file, found something else (a folder, a pipe or a device)")]
    NotFile,
    /// It belongs to another program.
    #[error("this is a database, but no history of runs")]
    Foreign,
    /// A newer tool has written it.
    #[error("its form is number {found}, and this tool knows those up to {known}")]
    Newer {
        /// Its form.
        found: i64,
        /// The newest known one.
        known: i64,
    },
    /// It is no database, or a damaged one.
    #[error("the file is damaged, or no database: {0}")]
    Damaged(#[source] rusqlite::Error),
    /// There is no room.
    #[error("the disk is full: {0}")]
    Full(#[source] rusqlite::Error),
    /// This computer opens no more files.
    #[error("this computer lets no program open more files: {0}")]
    NoHandles(#[source] std::io::Error),
    /// The system cannot read or write it.
    #[error("the system cannot read or write it: {0}")]
    Io(#[source] rusqlite::Error),
    /// Another program writes to it and does not come to an end.
    #[error("another program has been writing to it for {waited_s} s")]
    Busy {
        /// How long this one has waited.
        waited_s: u64,
    },
    /// It may not be written, or not opened.
    #[error("it cannot be opened or written: {0}")]
    NoAccess(#[source] rusqlite::Error),
    /// Something in it makes no sense.
    #[error("{0} in it makes no sense")]
    Nonsense(String),
    /// Anything else.
    #[error(transparent)]
    Other(rusqlite::Error),
}

/// How long one program waits for another to finish writing.
pub(super) const PATIENCE_S: u64 = 20;

impl HistoryError {
    pub(super) fn new(path: &Path, trouble: HistoryTrouble) -> Self {
        Self { path: path.into(), trouble }
    }

    pub(super) fn of(path: &Path, error: rusqlite::Error) -> Self {
        let trouble = match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => HistoryTrouble::Damaged(error),
            Some(ErrorCode::DiskFull) => HistoryTrouble::Full(error),
            Some(ErrorCode::SystemIoFailure) => HistoryTrouble::Io(error),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => HistoryTrouble::Busy { waited_s: PATIENCE_S },
            // The database says no more than that it cannot open a file.
            Some(ErrorCode::CannotOpen) => {
                shortage::of_handles().map_or(HistoryTrouble::NoAccess(error), HistoryTrouble::NoHandles)
            }
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => HistoryTrouble::NoAccess(error),
            _ => match error {
                rusqlite::Error::FromSqlConversionFailure(..)
                | rusqlite::Error::IntegralValueOutOfRange(..)
                | rusqlite::Error::InvalidColumnType(..) => HistoryTrouble::Nonsense(error.to_string()),
                error => HistoryTrouble::Other(error),
            },
        };
        Self::new(path, trouble)
    }

    /// What to do about it, where that is known.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        let path = self.path.display();
        match &self.trouble {
            HistoryTrouble::Missing => Some("name another with --history, or fill one: hil-runner history add RECORD...".into()),
            HistoryTrouble::Foreign | HistoryTrouble::NotFile => Some("name another file with --history".into()),
            HistoryTrouble::Newer { .. } => Some("use the newer tool, or name another file with --history".into()),
            HistoryTrouble::Damaged(_) | HistoryTrouble::Nonsense(_) => Some(format!(
                "keep it for a look and make a new one from the records, which have all of it: mv {path} {path}.damaged; \
                 hil-runner history add --history {path} NIGHTS/*/*/record.json"
            )),
            HistoryTrouble::Full(_) => Some(
                "make room, then add the records that are not in it yet: hil-runner history add RECORD... (those that are \
                 in it are not counted twice)"
                    .into(),
            ),
            HistoryTrouble::NoHandles(_) => Some("raise its limit of open files (ulimit -n), then begin again".into()),
            HistoryTrouble::Io(_) => Some(
                "see whether the disk is full or a limit on the size of files is set, then add the records that are not in it \
                 yet: hil-runner history add RECORD..."
                    .into(),
            ),
            HistoryTrouble::Busy { .. } => {
                Some("see which program has it open; then add the records that are not in it yet".into())
            }
            HistoryTrouble::NoAccess(_) => {
                Some("this user must be able to write the file and the folder it lies in, for the log beside it".into())
            }
            HistoryTrouble::Other(_) => None,
        }
    }
}
