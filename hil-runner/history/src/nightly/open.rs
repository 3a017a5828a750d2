//! The folder of a night: a new one, or that of a night that was killed and goes on.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use chrono::{DateTime, NaiveDate, Utc};

use super::plan::Plan;
use super::work::finished_record;
use slotwise_past::{Job, JobState, NIGHT_VERSION, Night, NightError, NightState, time_text};
use slotwise_record::{Head, RunOutcome, folder_name};
use slotwise_terms::files::WriteRecordError;

/// Nights of one date. Chosen: more than are started by hand.
const MOST_OF_A_DATE: u32 = 1_000;

/// Why a night cannot begin.
#[derive(Debug, thiserror::Error)]
pub enum BeginError {
    /// Another program runs a night into the same folder.
    #[error("{}: another night is going on there", reports.display())]
    Taken {
        /// The folder for reports.
        reports: PathBuf,
    },
    /// The folder cannot be made, read or written.
    #[error("{}: {source}", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// What was written of a night cannot be read.
    #[error(transparent)]
    Night(#[from] NightError),
    /// It cannot be written.
    #[error(transparent)]
    Write(#[from] WriteRecordError),
    /// Runs of a night that was killed do not end.
    #[error("{count} of the runs of night {night}, which was killed, still go on after {waited_s} s")]
    StillRunning {
        /// The night.
        night: String,
        /// How many.
        count: usize,
        /// How long this night has waited for them.
        waited_s: u64,
    },
    /// The system gives it no thread.
    #[error("the system starts no thread: {source}")]
    Thread {
        /// The cause.
        source: io::Error,
    },
    /// It was stopped before it began.
    #[error("stopped while runs of a night that was killed still go on; nothing was run")]
    Stopped,
    /// There are too many nights of this date.
    #[error("there are {MOST_OF_A_DATE} nights of {0} already")]
    TooMany(NaiveDate),
}

impl BeginError {
    /// What to do about it, where that is known.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Night(error) => Some(error.hint()),
            Self::StillRunning { .. } => Some("end them, or begin again when they have ended".into()),
            Self::Taken { .. }
            | Self::Folder { .. }
            | Self::Write(_)
            | Self::Thread { .. }
            | Self::Stopped
            | Self::TooMany(_) => None,
        }
    }
}

/// The folder for reports, held so that no other night begins there.
#[derive(Debug)]
pub(super) struct Reports {
    path: PathBuf,
    _lock: File,
}

/// A night and its folder.
#[derive(Clone, Debug)]
pub(super) struct Opened {
    pub(super) night: Night,
    pub(super) folder: PathBuf,
}

impl Reports {
    /// Takes the folder. The system lets go of it when this program ends, however that happens.
    pub(super) fn take(path: &Path) -> Result<Self, BeginError> {
        let fail = |source| BeginError::Folder { path: path.into(), source };
        fs::create_dir_all(path).map_err(fail)?;
        let lock = File::create(path.join(".lock")).map_err(fail)?;
        match lock.try_lock() {
            Ok(()) => Ok(Self { path: path.into(), _lock: lock }),
            Err(TryLockError::WouldBlock) => Err(BeginError::Taken { reports: path.into() }),
            Err(TryLockError::Error(source)) => Err(fail(source)),
        }
    }

    /// Nights that were killed or stopped, but for the one of this name.
    pub(super) fn left_behind(&self, but: &str) -> Result<Vec<Opened>, BeginError> {
        let fail = |source| BeginError::Folder { path: self.path.clone(), source };
        let mut left = Vec::new();
        for entry in fs::read_dir(&self.path).map_err(fail)? {
            let entry = entry.map_err(fail)?;
            // `latest` is a link to one of the others.
            if !entry.file_type().map_err(fail)?.is_dir() || entry.file_name().to_str() == Some(but) {
                continue;
            }
            let folder = entry.path();
            // One whose file is damaged, or of another form, is left alone: its records can be added to a history by
            // hand.
            if let Ok(Some(night)) = Night::read(&folder)
                && night.state.goes_on()
            {
                left.push(Opened { night, folder });
            }
        }
        left.sort_by(|one, two| one.folder.cmp(&two.folder));
        Ok(left)
    }

    /// The night of this date: the one that was killed or stopped, if the plan is the same, or else a new one.
    pub(super) fn night(
        &self,
        plan: &Plan,
        date: NaiveDate,
        now: DateTime<Utc>,
        seed: &mut dyn FnMut() -> u64,
    ) -> Result<Opened, BeginError> {
        for number in 1..=MOST_OF_A_DATE {
            let name = if number == 1 { date.to_string() } else { format!("{date}.{number}") };
            let folder = self.path.join(&name);
            match Night::read(&folder)? {
                Some(night) if night.state.goes_on() && night.plan_text == plan.text => {
                    let night = Night { resumed: night.resumed + 1, ..night };
                    return Ok(Opened { night, folder });
                }
                Some(_) => {}
                None => {
                    let fail = |source| BeginError::Folder { path: folder.clone(), source };
                    fs::create_dir_all(&folder).map_err(fail)?;
                    let night = begin(plan, name, now, seed);
                    return Ok(Opened { night, folder });
                }
            }
        }
        Err(BeginError::TooMany(date))
    }
}

fn begin(plan: &Plan, name: String, now: DateTime<Utc>, seed: &mut dyn FnMut() -> u64) -> Night {
    let mut jobs = Vec::new();
    for entry in &plan.entries {
        for time in 1..=entry.times {
            for scenario in &entry.scenarios {
                let number = jobs.len() + 1;
                jobs.push(Job {
                    folder: folder_name(number, &format!("{} {}", stem(&entry.rig), stem(scenario))),
                    rig: entry.rig.clone(),
                    scenario: scenario.clone(),
                    time,
                    seed: entry.seed.unwrap_or_else(&mut *seed),
                    at_most_s: entry.at_most_s,
                    state: JobState::Waiting,
                    run: None,
                    started_at: None,
                    took_ms: None,
                });
            }
        }
    }
    Night {
        head: Head::of(NIGHT_VERSION),
        name,
        plan: plan.name.clone(),
        plan_text: plan.text.clone(),
        started_at: time_text(now),
        ended_at: None,
        state: NightState::GoingOn,
        resumed: 0,
        jobs,
    }
}

/// The name of a file without folder and ending.
fn stem(name: &str) -> &str {
    Path::new(name).file_stem().and_then(|stem| stem.to_str()).unwrap_or(name)
}

/// What a killed night has left of its runs: those that wrote all of their results are done, the others are as if they
/// had not begun.
pub(super) fn take_stock(opened: &mut Opened) {
    for job in &mut opened.night.jobs {
        if job.state == JobState::GoingOn {
            job.state = match finished_record(&opened.folder.join(&job.folder)) {
                // It was stopped because the night was: half a run is none.
                Ok(record) if record.end.outcome == RunOutcome::Interrupted => JobState::Waiting,
                Ok(record) => JobState::Done(record.end.outcome),
                Err(_) => JobState::Waiting,
            };
        }
    }
}

/// Has a night that was stopped go on: what was not done waits again.
pub(super) fn go_on(night: &mut Night) {
    for job in &mut night.jobs {
        if matches!(job.state, JobState::NotDone(_)) {
            *job = Job { state: JobState::Waiting, started_at: None, took_ms: None, ..job.clone() };
        }
    }
    night.state = NightState::GoingOn;
    night.ended_at = None;
}
