//! What a report of a night is made from.

use std::path::PathBuf;

use super::night::{Job, Night};
use crate::history::History;
use crate::regression::Assessment;
use slotwise_record::Record;

/// The name of a file in the folder of a night, and what makes its text.
pub type Page = (&'static str, fn(&NightReport<'_>) -> Result<String, String>);

/// A night with all that its runs brought.
pub struct NightReport<'a> {
    /// The night.
    pub night: &'a Night,
    /// Its runs, in the order of the plan.
    pub runs: Vec<ReportedRun<'a>>,
    /// The history with these runs in it; none if it could not be used.
    pub history: Option<&'a History>,
    /// What went wrong with the night itself: a history that could not be written, for example.
    pub troubles: Vec<String>,
}

/// One run of a night.
pub struct ReportedRun<'a> {
    /// What the night says of it.
    pub job: &'a Job,
    /// Its record, if it came to one.
    pub record: Option<Record>,
    /// What has changed since the runs before, but for what an earlier run of the night has told; none if it is not in the
    /// history.
    pub assessment: Option<Assessment>,
    /// How many of its changes an earlier run of the night has told.
    pub told_before: usize,
    /// The waveform of its line, if the rig recorded one.
    pub waveform: Option<PathBuf>,
}
