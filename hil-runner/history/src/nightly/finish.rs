//! The end of a night: its reports, and the link to the latest one.

use std::path::Path;

use chrono::Utc;

use super::keep::Keeper;
use super::metrics::metrics;
use super::open::Opened;
use super::paths::make_folder_of;
use super::run::NightOrder;
use super::work::{finished_record, record_of};
use crate::regression::ShownChanges;
use slotwise_past::{Assessment, Job, JobState, Night, NightReport, NightState, ReportedRun, time_text};
use slotwise_record::{Record, read_record};
use slotwise_terms::files::{WriteRecordError, write_atomically};
use slotwise_waveform::Levels;

/// Whether what is finished is the latest night.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Finished {
    /// It is, and all of it was done.
    Latest,
    /// It is, and was stopped.
    Stopped,
    /// It is one that was killed before.
    Earlier,
}

/// Writes the reports of a night. What cannot be written is noted; the night's own file must be.
pub(super) fn finish(
    NightOrder { plan, pages, .. }: &NightOrder<'_>,
    opened: &mut Opened,
    keeper: &mut Keeper,
    which: Finished,
) -> Result<Vec<Option<Assessment>>, WriteRecordError> {
    for job in &mut opened.night.jobs {
        lose_without_record(job, &opened.folder);
    }
    keeper.keep_all(opened);
    let not_done = opened.night.jobs.iter().any(|job| matches!(job.state, JobState::NotDone(_)));
    opened.night.state = match (not_done, which) {
        (false, _) => NightState::Complete,
        (true, Finished::Stopped) => NightState::Stopped,
        (true, Finished::Latest | Finished::Earlier) => NightState::Closed,
    };
    opened.night.ended_at = Some(time_text(Utc::now()));
    let runs = runs(&opened.night, &opened.folder, keeper);
    let assessments = runs.iter().map(|run| run.assessment.clone()).collect();
    let mut failed = Vec::new();
    let troubles = keeper.troubles().to_vec();
    let report = NightReport { night: &opened.night, runs, troubles };
    let mut write = |path: &Path, text: Result<String, String>| {
        let written = text.and_then(|text| {
            write_atomically(path, |out| out.write_all(text.as_bytes())).map_err(|error| error.to_string())
        });
        failed.extend(written.err());
    };
    for (name, page) in *pages {
        write(&opened.folder.join(name), page(&report));
    }
    if which != Finished::Earlier {
        // If the folder cannot be made, writing the file fails, and that error is reported.
        let _ = make_folder_of(&plan.metrics);
        write(&plan.metrics, metrics(&report).map_err(|error| error.to_string()));
    }
    drop(report);
    if which != Finished::Earlier {
        failed.extend(point_to(&plan.reports, &opened.night.name).err());
    }
    for trouble in failed {
        keeper.note(trouble);
    }
    // Last: a night that says it is complete has its reports.
    opened.night.write(&opened.folder)?;
    Ok(assessments)
}

/// A run that was done is lost if its results are not there any more: no report may link to them, and none may say that
/// it passed.
fn lose_without_record(job: &mut Job, folder: &Path) {
    if let JobState::Done(outcome) = job.state
        && let Err(why) = finished_record(&folder.join(&job.folder))
    {
        job.state = JobState::Lost(format!("it was {}, but its results are gone: {why}", outcome.word()));
    }
}

/// The runs of a night with what they brought.
fn runs<'n>(night: &'n Night, folder: &Path, keeper: &mut Keeper) -> Vec<ReportedRun<'n>> {
    let run = |job: &'n Job| {
        let folder = folder.join(&job.folder);
        let waveform = folder.join("line.vcd");
        let record = matches!(job.state, JobState::Done(_)).then(|| read_record(&record_of(&folder)).ok()).flatten();
        let failed = record.as_ref().and_then(Record::first_failure).filter(|_| waveform.exists());
        ReportedRun {
            job,
            failure: failed.map(|step| Levels::read(&waveform, step.started_ns, step.ended_ns)),
            record,
            past: job.run.and_then(|run| keeper.past(run)),
            assessment: job.run.and_then(|run| keeper.assessment(run)),
            shown_before: 0,
        }
    };
    let mut runs: Vec<_> = night.jobs.iter().map(run).collect();
    report_each_change_once(&mut runs, keeper);
    runs
}

/// Keeps each change at the first run of the night that shows it, in the order of the history, since concurrent runs end
/// in any order.
fn report_each_change_once(runs: &mut [ReportedRun<'_>], keeper: &mut Keeper) {
    let mut in_order: Vec<&mut ReportedRun<'_>> = runs.iter_mut().collect();
    in_order.sort_by_key(|run| run.job.run);
    let mut reported = ShownChanges::default();
    for ReportedRun { job, assessment, shown_before, .. } in in_order {
        if let (Some(assessment), Some(series)) = (assessment, job.run.and_then(|run| keeper.series(run))) {
            *shown_before = reported.retain_unreported(&series, assessment);
        }
    }
}

/// Points `latest` to this night. The replacement is atomic, so `latest` always leads to a night.
fn point_to(reports: &Path, night: &str) -> Result<(), String> {
    let latest = reports.join("latest");
    let fail = |error: std::io::Error| format!("cannot make {} lead to {night}: {error}", latest.display());
    #[cfg(unix)]
    {
        let fresh = reports.join(".latest-new");
        match std::fs::remove_file(&fresh) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(fail(error)),
            _ => {}
        }
        std::os::unix::fs::symlink(night, &fresh).map_err(fail)?;
        std::fs::rename(&fresh, &latest).map_err(fail)
    }
    #[cfg(not(unix))]
    {
        // Links need rights there that a user does not have: the name of the night in a file serves.
        std::fs::write(&latest, night).map_err(fail)
    }
}
