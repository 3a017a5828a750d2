//! The report for continuous integration: JUnit XML. A scenario is a test suite, a step is a test case.
//!
//! A failed expectation is a failure; a broken rig is an error; what was not done, or not possible, is skipped, with the
//! reason. Times are those of the rig.

use std::time::Duration;

use chrono::DateTime;
use quick_junit::{NonSuccessKind, Property, Report, SerializeError, TestCase, TestCaseStatus, TestSuite};

use super::step::place;
use super::verdicts::sentence;
use slotwise_record::{Breakage, Record, RunOutcome, StepData, StepOutcome, StepRecord};

/// Why there is no report.
#[derive(Debug, thiserror::Error)]
#[error("no JUnit XML can be made: {0}")]
pub struct JunitError(#[from] SerializeError);

/// The report of a finished record.
///
/// # Errors
/// [`JunitError`] if it cannot be put into XML.
pub fn junit(record: &Record) -> Result<String, JunitError> {
    let mut report = Report::new(&*record.tool.name);
    report.add_test_suite(suite(record));
    serialised(&report)
}

/// The report as text. The schemas in use know no `skipped` of the root: that of each suite says it.
pub(super) fn serialised(report: &Report) -> Result<String, JunitError> {
    let text = report.to_string()?;
    let Some((begin, end)) =
        text.find("<testsuites").and_then(|begin| Some((begin, begin + text.get(begin..)?.find('>')?)))
    else {
        return Ok(text);
    };
    let (tag, rest) = (&text[begin..end], &text[end..]);
    let tag = match tag.split_once(" skipped=\"") {
        Some((before, after)) => format!("{before}{}", after.split_once('"').map_or("", |(_, after)| after)),
        None => tag.to_owned(),
    };
    Ok(format!("{}{tag}{rest}", &text[..begin]))
}

/// The suite of one record.
pub(super) fn suite(record: &Record) -> TestSuite {
    let mut suite = TestSuite::new(&*record.scenario.name);
    suite.set_time(Duration::from_nanos(record.end.at_ns));
    if let Ok(started_at) = DateTime::parse_from_rfc3339(&record.started_at) {
        suite.set_timestamp(started_at);
    }
    let properties = [
        ("tool", format!("{} {}", record.tool.name, record.tool.version)),
        ("driver", format!("{} {}", record.driver.name, record.driver.version)),
        ("rig", record.rig.name.clone()),
        ("scenario", record.scenario.source.clone()),
        ("seed", record.seed.to_string()),
        ("outcome", record.end.outcome.word().to_lowercase()),
    ];
    suite.add_properties(properties.map(|(name, value)| Property::new(name, value)));
    let mut cautions: Vec<&str> = record.scenario.cautions.iter().map(String::as_str).collect();
    for caution in record.steps.iter().flat_map(StepRecord::all_cautions) {
        if !cautions.contains(&caution) {
            cautions.push(caution);
        }
    }
    suite.add_properties(cautions.into_iter().map(|caution| Property::new("caution", caution)));
    suite.add_test_cases(record.steps.iter().map(|step| case(record, step)));
    if record.end.outcome == RunOutcome::Interrupted {
        suite.add_test_case(interruption(record));
    }
    if let Some(Breakage { text, .. }) = record.end.breakage.as_ref().filter(|breakage| breakage.step.is_empty()) {
        suite.add_test_case(case_of_run(record, "the rig can be made ready", failing("broken-rig", text.clone())));
    }
    suite.add_test_cases(record.end.edges.as_ref().map(|edges| {
        let status = match edges.violated {
            0 => TestCaseStatus::success(),
            count => failing("edges", format!("{count} times outside the limits of the datasheets")),
        };
        case_of_run(record, "every edge keeps the times of the datasheets", status)
    }));
    suite.add_test_cases(record.end.capture.as_ref().map(|capture| {
        let status = match (capture.objections.as_slice(), crate::line::not_judged(record)) {
            ([], None) => TestCaseStatus::success(),
            // The interruption is the error, once.
            ([], Some(part)) if record.end.outcome == RunOutcome::Interrupted => {
                let mut status = TestCaseStatus::skipped();
                status.set_message(part);
                status
            }
            ([], Some(part)) => failing("recorded-line", part),
            (objections, _) => {
                let texts: Vec<String> = objections.iter().map(crate::line::objection).collect();
                failing("recorded-line", texts.join("\n"))
            }
        };
        case_of_run(record, "the judge of captures has no objection to the recorded line", status)
    }));
    suite
}

/// A run that was stopped has no failed step, perhaps, but must not look passed.
fn interruption(record: &Record) -> TestCase {
    let status = failing("interrupted", "the run was stopped before its end".into());
    case_of_run(record, "the run comes to its end", status)
}

pub(super) fn failing(kind: &str, message: String) -> TestCaseStatus {
    let mut status = TestCaseStatus::non_success(NonSuccessKind::Error);
    status.set_type(kind).set_message(message);
    status
}

/// A case that is about no single step.
fn case_of_run(record: &Record, name: &str, status: TestCaseStatus) -> TestCase {
    let mut case = TestCase::new(name, status);
    case.set_classname(&*record.scenario.name);
    case
}

fn case(record: &Record, step: &StepRecord) -> TestCase {
    let mut case = TestCase::new(format!("{} {}", place(&step.place), step.label), status(record, step));
    case.set_classname(&*record.scenario.name);
    case.set_time(Duration::from_nanos(step.ended_ns.saturating_sub(step.started_ns)));
    case
}

fn status(record: &Record, step: &StepRecord) -> TestCaseStatus {
    let (kind, word) = match step.outcome {
        StepOutcome::Passed => return TestCaseStatus::success(),
        StepOutcome::Failed => (NonSuccessKind::Failure, "expectation"),
        StepOutcome::Broken => (NonSuccessKind::Error, "broken-rig"),
        StepOutcome::NotPossible | StepOutcome::Interrupted | StepOutcome::NotRun => {
            let mut status = TestCaseStatus::skipped();
            status.set_message(step.reason.as_deref().unwrap_or(step.outcome.word()));
            return status;
        }
    };
    let texts = against(step);
    let mut status = TestCaseStatus::non_success(kind);
    status.set_type(word);
    let message = match (texts.as_slice(), &step.reason) {
        (_, Some(reason)) => reason.clone(),
        ([only], None) => only.clone(),
        (several, None) => format!("{} expectations not met", several.len()),
    };
    status.set_message(message);
    let at = format!("{}, line {}", record.scenario.source, step.line);
    status.set_description(format!("{}\n{at}", texts.join("\n")));
    status
}

/// All that speaks against a step; of a repetition, what speaks against the rounds kept as well.
fn against(step: &StepRecord) -> Vec<String> {
    let mut texts: Vec<String> = step.verdicts.iter().filter(|verdict| !verdict.is_met()).map(sentence).collect();
    if let StepData::Rounds(rounds) = &step.data {
        for round in rounds.kept.iter().filter(|round| round.outcome != StepOutcome::Passed) {
            for inner in &round.steps {
                let first = format!("round {}, step {}", round.number, place(&inner.place));
                texts.extend(against(inner).into_iter().map(|text| format!("{first}: {text}")));
            }
        }
    }
    texts
}

#[cfg(test)]
mod tests {
    use slotwise_record::{Round, Rounds, StepData, StepOutcome};
    use slotwise_run::sample::sample_record;
    use slotwise_terms::fixed_point::ICE_BATH;

    #[test]
    fn a_caution_of_a_repeated_step_stands_once() {
        let mut record = sample_record(0);
        let mut step = record.steps[0].clone();
        step.cautions = vec![ICE_BATH.into()];
        let round = |number| Round { number, outcome: StepOutcome::Passed, steps: vec![step.clone()] };
        record.steps[1].data = StepData::Rounds(Rounds { kept: vec![round(1), round(2)], ..Rounds::default() });
        assert_eq!(super::junit(&record).unwrap().matches("sealed end of a probe lead").count(), 1);
    }
}
