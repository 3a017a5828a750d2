//! A night: which runs belong to it and what has become of each, kept in `night.json` while it goes on.
//!
//! The file is written anew, as a whole, whenever anything of it changes. So a night that was killed says itself how far it came.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use chrono::{DateTime, SecondsFormat, Utc};
#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::rows::RunId;
use slotwise_record::{Head, RunOutcome};
use slotwise_terms::files::{WriteRecordError, write_atomically};

/// Version of the form of `night.json`. Form 2 knows nights that were stopped; form 3 has `schema_version`
/// for `night_version`.
pub const NIGHT_VERSION: u32 = 3;
/// The oldest form that is read.
const OLDEST_VERSION: u32 = 1;

/// Name of the file.
const FILE: &str = "night.json";

/// One night.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Night {
    /// What every file begins with.
    #[serde(flatten)]
    pub head: Head,
    /// Its name: a date, with a number behind it for another night of the same date.
    pub name: String,
    /// What the plan is called.
    pub plan: String,
    /// The text of the plan, so that a changed one is known.
    pub plan_text: String,
    /// When it began: UTC, RFC 3339.
    pub started_at: String,
    /// When it ended.
    pub ended_at: Option<String>,
    /// Its state.
    pub state: NightState,
    /// How often it was taken up again after it was killed.
    pub resumed: u32,
    /// Its runs.
    pub jobs: Vec<Job>,
}

/// The state of a night.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum NightState {
    /// It goes on, or was killed.
    GoingOn,
    /// It was stopped, and goes on if it is started again on its date.
    Stopped,
    /// All of its runs have been done.
    Complete,
    /// It was stopped or killed, and was ended without the rest of its runs.
    Closed,
}

impl NightState {
    /// Whether a night goes on, or does if it is started again on its date.
    #[must_use]
    pub const fn goes_on(self) -> bool {
        match self {
            Self::GoingOn | Self::Stopped => true,
            Self::Complete | Self::Closed => false,
        }
    }
}

/// One run of a night: a scenario on a rig.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Job {
    /// Its folder within that of the night.
    pub folder: String,
    /// The rig, as the plan names it.
    pub rig: String,
    /// The scenario, as the plan names it.
    pub scenario: String,
    /// Which time, from 1, if it is run several times.
    pub time: u32,
    /// Seed of all randomness.
    pub seed: u64,
    /// Longest time it may take, in seconds.
    pub at_most_s: u64,
    /// Its state.
    pub state: JobState,
    /// Its number in the history.
    pub run: Option<RunId>,
    /// When it began: UTC, RFC 3339.
    pub started_at: Option<String>,
    /// How long it took by the clock on the wall, in milliseconds.
    pub took_ms: Option<u64>,
}

/// The state of a run of a night.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case", tag = "is", content = "of")]
pub enum JobState {
    /// Its turn has not come.
    Waiting,
    /// It goes on, or was killed with the night.
    GoingOn,
    /// It has come to its end, and its record is there.
    Done(RunOutcome),
    /// Plan, rig or scenario are not as they must be.
    Refused(String),
    /// Not all of its results are there: it was killed, it crashed, or this computer ran short of disk, memory or file handles.
    Lost(String),
    /// It was not done.
    NotDone(String),
}

/// Why a night cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum NightError {
    /// The file cannot be read.
    #[error("cannot read {}: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// It is not what it must be.
    #[error("{} is damaged: {source}", path.display())]
    Form {
        /// The file.
        path: PathBuf,
        /// The cause.
        source: serde_json::Error,
    },
    /// Another version of this tool has written it.
    #[error("{} has form {found}, and this tool knows forms {OLDEST_VERSION} to {NIGHT_VERSION}", path.display())]
    Version {
        /// The file.
        path: PathBuf,
        /// Its form.
        found: u32,
    },
}

impl NightError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> String {
        let (Self::Read { path, .. } | Self::Form { path, .. } | Self::Version { path, .. }) = self;
        let folder = path.parent().unwrap_or(path).display();
        format!(
            "move that night aside and begin again; its runs can be added to the history: mv {folder} {folder}.aside; \
             hil-runner history add {folder}.aside/*/record.json --history HISTORY"
        )
    }
}

/// As much of a night as each form has.
#[derive(Deserialize)]
struct Form {
    // Its name in forms 1 and 2.
    #[serde(alias = "night_version")]
    schema_version: u32,
}

impl Night {
    /// Reads the night of a folder. `None` if none was begun there.
    ///
    /// # Errors
    /// [`NightError`].
    pub fn read(folder: &Path) -> Result<Option<Self>, NightError> {
        let path = folder.join(FILE);
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(source) => return Err(NightError::Read { path, source }),
        };
        let form = |source| NightError::Form { path: path.clone(), source };
        // First: of another form anything else may be missing, or mean something else.
        let Form { schema_version } = serde_json::from_str(&text).map_err(form)?;
        if !(OLDEST_VERSION..=NIGHT_VERSION).contains(&schema_version) {
            return Err(NightError::Version { path, found: schema_version });
        }
        let night: Self = serde_json::from_str(&text).map_err(form)?;
        // It is written in the form of today.
        Ok(Some(Self { head: Head { schema_version: NIGHT_VERSION, ..night.head }, ..night }))
    }

    /// Writes it into its folder.
    ///
    /// # Errors
    /// [`WriteRecordError`]; the file that was there is still there.
    pub fn write(&self, folder: &Path) -> Result<(), WriteRecordError> {
        write_atomically(&folder.join(FILE), |out| {
            serde_json::to_writer_pretty(&mut *out, self)?;
            out.write_all(b"\n")
        })
    }
}

/// A time as the night's file has it.
#[must_use]
pub fn time_text(time: DateTime<Utc>) -> String {
    time.to_rfc3339_opts(SecondsFormat::Secs, true)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_night_reads_back_as_it_was_written() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(Night::read(folder.path()).unwrap(), None);
        let job = Job {
            folder: "1-cellar".into(),
            rig: "cellar".into(),
            scenario: "cellar".into(),
            time: 1,
            seed: u64::MAX,
            at_most_s: 60,
            state: JobState::Done(RunOutcome::Failed),
            run: Some(7),
            started_at: None,
            took_ms: Some(12),
        };
        let lost = Job { state: JobState::Lost("killed".into()), ..job.clone() };
        let night = Night {
            head: Head::of(NIGHT_VERSION),
            name: "2026-03-01".into(),
            plan: "cellar".into(),
            plan_text: "plan = \"cellar\"".into(),
            started_at: time_text(DateTime::UNIX_EPOCH),
            ended_at: None,
            state: NightState::GoingOn,
            resumed: 0,
            jobs: vec![job, lost],
        };
        night.write(folder.path()).unwrap();
        assert_eq!(Night::read(folder.path()).unwrap().as_ref(), Some(&night));
        let text = fs::read_to_string(folder.path().join(FILE)).unwrap();
        assert!(text.contains("\"schema_version\": 3"), "{text}");
        for older in ["\"night_version\": 1", "\"night_version\": 2"] {
            fs::write(folder.path().join(FILE), text.replace("\"schema_version\": 3", older)).unwrap();
            assert_eq!(Night::read(folder.path()).unwrap().as_ref(), Some(&night), "an older form, {older}");
        }
        Night { head: Head::of(99), ..night }.write(folder.path()).unwrap();
        assert!(matches!(Night::read(folder.path()), Err(NightError::Version { found: 99, .. })));
        fs::write(folder.path().join(FILE), "{\"night").unwrap();
        assert!(matches!(Night::read(folder.path()), Err(NightError::Form { .. })));
    }
}
