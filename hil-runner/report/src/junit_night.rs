//! The report of a night for continuous integration: a suite for each run, and one for what has changed.

use quick_junit::{NonSuccessKind, Report, TestCase, TestCaseStatus, TestSuite};

use super::junit::{JunitError, failing, serialised, suite};
use slotwise_past::{JobState, NightReport, ReportedRun};

/// The suite of what has changed.
const CHANGES: &str = "what has changed since the runs before";

/// The report of a night.
///
/// # Errors
/// [`JunitError`] if it cannot be put into XML.
pub fn junit_of_night(report: &NightReport<'_>) -> Result<String, JunitError> {
    let mut junit = Report::new(format!("{} {}", report.night.plan, report.night.name));
    for run in &report.runs {
        let mut suite = match &run.record {
            Some(record) => suite(record),
            None => without_record(run),
        };
        // Several runs may be of one scenario.
        suite.name = format!("{}: {}", run.job.folder, &*suite.name).into();
        junit.add_test_suite(suite);
    }
    junit.add_test_suite(changes(report));
    serialised(&junit)
}

/// A run that came to no record.
fn without_record(run: &ReportedRun<'_>) -> TestSuite {
    let status = match &run.job.state {
        JobState::Refused(why) => failing("bad-input", why.clone()),
        JobState::Lost(why) => failing("lost", why.clone()),
        JobState::NotDone(why) => {
            let mut status = TestCaseStatus::skipped();
            status.set_message(why.clone());
            status
        }
        // A record that was there is gone or damaged.
        JobState::Done(_) | JobState::Waiting | JobState::GoingOn => {
            failing("lost", "its record cannot be read".into())
        }
    };
    let mut suite = TestSuite::new(format!("{} on {}", run.job.scenario, run.job.rig));
    suite.add_test_case(TestCase::new("the run comes to a record", status));
    suite
}

fn changes(report: &NightReport<'_>) -> TestSuite {
    let mut suite = TestSuite::new(CHANGES);
    for run in &report.runs {
        let name = format!("{}: as before", run.job.folder);
        let Some(assessment) = &run.assessment else {
            let mut status = TestCaseStatus::skipped();
            status.set_message("it is not in the history");
            suite.add_test_case(TestCase::new(&*name, status));
            continue;
        };
        if assessment.changes.is_empty() {
            let mut status = TestCaseStatus::success();
            if run.shown_before > 0 {
                status = TestCaseStatus::skipped();
                status.set_message("it shows nothing but what an earlier run of this night has shown");
            }
            suite.add_test_case(TestCase::new(&*name, status));
        }
        for (change, number) in assessment.changes.iter().zip(1..) {
            let mut status = TestCaseStatus::non_success(NonSuccessKind::Failure);
            status.set_type(if change.is_new { "new" } else { "standing" });
            status.set_message(change.finding.text.clone());
            status.set_description(format!("since {}: {}", change.since, change.finding.text));
            suite.add_test_case(TestCase::new(format!("{name} ({number})"), status));
        }
    }
    suite
}
