//! What a report of a night is made from.

use slotwise_record::Record;
use slotwise_waveform::Levels;

use super::changes::Assessment;
use super::night::{Job, Night};
use super::rows::SeriesPast;

/// The name of a file in the folder of a night, and what makes its text.
pub type Page = (&'static str, fn(&NightReport<'_>) -> Result<String, String>);

/// A night with all that its runs brought.
pub struct NightReport<'a> {
    /// The night.
    pub night: &'a Night,
    /// Its runs, in the order of the plan.
    pub runs: Vec<ReportedRun<'a>>,
    /// What went wrong with the night itself: a history that could not be written, for example.
    pub troubles: Vec<String>,
}

/// One run of a night.
pub struct ReportedRun<'a> {
    /// What the night says of it.
    pub job: &'a Job,
    /// Its record, if it came to one.
    pub record: Option<Record>,
    /// What has changed since the runs before, without what an earlier run of the night has shown; none if it is not in the
    /// history.
    pub assessment: Option<Assessment>,
    /// How many of its changes an earlier run of the night has shown.
    pub shown_before: usize,
    /// The last runs of its series, itself among them; none if it is not in the history.
    pub past: Option<SeriesPast>,
    /// The line at the first failure, or why it cannot be read; none if nothing failed or the rig recorded no waveform.
    pub failure: Option<Result<Levels, String>>,
}
