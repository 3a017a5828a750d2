//! What a night brings goes into the history. A history that fails does not stop the night: the records are there, and
//! are added later.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use super::open::Opened;
use super::paths::make_folder_of;
use super::work::record_of;
use crate::regression::{add_run, assess};
use crate::{History, HistoryError, IfMissing, RunPlace};
use slotwise_past::{Assessment, Job, JobState, RunId, Series, SeriesPast};
use slotwise_record::{Record, read_record};

/// Runs of a series that a report shows.
const SHOWN_RUNS: u32 = 60;

/// Keeps runs in a history.
pub(super) struct Keeper {
    path: PathBuf,
    history: Option<History>,
    assessments: HashMap<RunId, Assessment>,
    troubles: Vec<String>,
}

impl Keeper {
    pub(super) fn new(path: &Path) -> Self {
        let mut keeper = Self { path: path.into(), history: None, assessments: HashMap::new(), troubles: Vec::new() };
        // If the folder cannot be made, opening the history fails, and that error is reported.
        let _ = make_folder_of(path);
        match History::open(path, IfMissing::Make) {
            Ok(history) => keeper.history = Some(history),
            Err(error) => keeper.trouble(&error),
        }
        keeper
    }

    /// Notes what went wrong; each thing once.
    pub(super) fn trouble(&mut self, error: &HistoryError) {
        let text = match error.hint() {
            Some(hint) => format!("{error}; hint: {hint}"),
            None => error.to_string(),
        };
        self.note(text);
    }

    pub(super) fn note(&mut self, text: String) {
        if !self.troubles.contains(&text) {
            self.troubles.push(text);
        }
    }

    pub(super) fn troubles(&self) -> &[String] {
        &self.troubles
    }

    pub(super) fn into_troubles(self) -> Vec<String> {
        self.troubles
    }

    /// Adds a run, unless it is there, and asks what has changed.
    pub(super) fn keep(&mut self, night: &str, folder: &Path, job: &mut Job, record: &Record) -> Option<&Assessment> {
        let history = self.history.as_mut()?;
        let absolute = std::path::absolute(folder).unwrap_or_else(|_| folder.into());
        match add_run(history, record, RunPlace { night: Some(night), folder: Some(&absolute) }) {
            Ok((added, assessment)) => {
                job.run = Some(added.id());
                Some(self.assessments.entry(added.id()).insert_entry(assessment).into_mut())
            }
            Err(error) => {
                self.trouble(&error);
                None
            }
        }
    }

    /// What had changed in a run when it was added. A night that was taken up again asks the history for what it did
    /// before.
    pub(super) fn assessment(&mut self, run: RunId) -> Option<Assessment> {
        if let Some(assessment) = self.assessments.get(&run) {
            return Some(assessment.clone());
        }
        let assessment = assess(self.history.as_ref()?, run);
        self.or_trouble(assessment)
    }

    /// The series of a run.
    pub(super) fn series(&mut self, run: RunId) -> Option<Series> {
        let series = self.history.as_ref()?.series(run);
        self.or_trouble(series)
    }

    /// The last runs of its series, for plots.
    pub(super) fn past(&mut self, run: RunId) -> Option<SeriesPast> {
        let past = self.history.as_ref()?.series_past(run, SHOWN_RUNS);
        self.or_trouble(past)
    }

    fn or_trouble<T>(&mut self, result: Result<T, HistoryError>) -> Option<T> {
        result.inspect_err(|error| self.trouble(error)).ok()
    }

    /// Adds all that is done and not in the history: of a night that was killed, or while the history failed.
    pub(super) fn keep_all(&mut self, opened: &mut Opened) {
        if self.history.is_none() {
            // Perhaps whatever was wrong has passed.
            self.history = History::open(&self.path, IfMissing::Make).ok();
        }
        for job in &mut opened.night.jobs {
            if matches!(job.state, JobState::Done(_)) && job.run.is_none() {
                let folder = opened.folder.join(&job.folder);
                if let Ok(record) = read_record(&record_of(&folder)) {
                    self.keep(&opened.night.name, &folder, job, &record);
                }
            }
        }
    }
}
