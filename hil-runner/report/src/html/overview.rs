//! The top of the page: how it went, in one sentence and in one table, and what has changed against the past of each rig.

use super::HtmlError;
use super::page::{Change, Changes, Link, Page, Row, Run, Tone};
use super::run::{Part, run};
use slotwise_past::{JobState, NightReport, ReportedRun};
use slotwise_record::{Record, Tool};
use slotwise_terms::units::{count, rig_time};
use slotwise_waveform::Levels;

pub(super) fn of_night(report: &NightReport<'_>) -> Result<Page, HtmlError> {
    let night = report.night;
    let parts: Result<Vec<Run>, HtmlError> = report
        .runs
        .iter()
        .zip(1..)
        .map(|(reported, number)| run(&Part { number, heading: heading(reported), reported }))
        .collect();
    let runs = parts?;
    let rows: Vec<Row> = report.runs.iter().zip(&runs).map(|(reported, run)| row(reported, run)).collect();
    let changes = changes(report, &runs);
    let good = rows.iter().filter(|row| row.tone == Tone::Good).count();
    let bad = rows.iter().any(|row| row.tone == Tone::Bad);
    let all = count(rows.len(), "run");
    let new = changes.new.len();
    let standing = changes.standing.len();
    let tone = match (good == rows.len(), bad, new + standing) {
        (true, _, 0) => Tone::Good,
        (true, _, _) | (false, false, _) => Tone::Odd,
        (false, true, _) => Tone::Bad,
    };
    let verdict = format!("{good} of {all} passed; {new} new, {} standing since before", count(standing, "change"));
    Ok(Page {
        title: format!("{}, night of {}", night.plan, night.name),
        verdict,
        tone,
        first_failure: first_failure(&runs),
        rows,
        changes: Some(changes),
        troubles: report.troubles.clone(),
        runs,
        made_by: format!("{} {}, begun {}", night.head.tool.name, night.head.tool.version, night.started_at),
    })
}

pub(super) fn of_record(record: &Record, failure: Option<&Result<Levels, String>>) -> Result<Page, HtmlError> {
    let heading = format!("{} on {}", record.scenario.name, record.rig.name);
    let run = run(&Part { number: 1, heading: heading.clone(), reported: &(record, failure) })?;
    let outcome = record.end.outcome;
    let tally = record.tally();
    let of = tally.met + tally.not_met + tally.cannot_tell;
    let runs = vec![run];
    let Tool { name, version } = &record.tool;
    Ok(Page {
        title: heading,
        verdict: format!("{}: {} of {of} expectations met", outcome.word(), tally.met),
        tone: Tone::of(outcome),
        first_failure: first_failure(&runs),
        rows: vec![Row {
            link: Link { to: runs[0].id.clone(), text: record.scenario.name.clone() },
            rig: record.rig.name.clone(),
            word: outcome.word(),
            tone: Tone::of(outcome),
            met: format!("{} of {of}", tally.met),
            took: format!("{} of the rig's time", rig_time(record.end.at_ns)),
            changes: "not asked".into(),
        }],
        changes: None,
        troubles: Vec::new(),
        runs,
        made_by: format!("{name} {version}, begun {}", record.started_at),
    })
}

fn heading(run: &ReportedRun<'_>) -> String {
    let name = run.record.as_ref().map_or(&run.job.scenario, |record| &record.scenario.name);
    let rig = run.record.as_ref().map_or(&run.job.rig, |record| &record.rig.name);
    let time = if run.job.time > 1 { format!(", time {}", run.job.time) } else { String::new() };
    format!("{name} on {rig}{time}")
}

fn row(reported: &ReportedRun<'_>, run: &Run) -> Row {
    let met = reported.record.as_ref().map_or_else(
        || "none".to_owned(),
        |record| {
            let tally = record.tally();
            format!("{} of {}", tally.met, tally.met + tally.not_met + tally.cannot_tell)
        },
    );
    let changes = reported.assessment.as_ref().map_or_else(
        || "not in the history".to_owned(),
        |assessment| match assessment.changes.iter().filter(|change| change.is_new).count() {
            0 if assessment.changes.len() + reported.shown_before == 0 => "nothing".into(),
            0 => "nothing new".into(),
            new => format!("{new} new"),
        },
    );
    Row {
        link: Link { to: run.id.clone(), text: run.heading.clone() },
        rig: reported.job.rig.clone(),
        word: run.word,
        tone: run.tone,
        met,
        took: reported.job.took_ms.map_or("none".into(), |ms| format!("{:.1} s", ms as f64 / 1000.0)),
        changes,
    }
}

/// The first step that failed, or the first run without steps that did; where nothing failed, the first that could not be done.
fn first_failure(runs: &[Run]) -> Option<Link> {
    [Tone::Bad, Tone::Odd].into_iter().find_map(|tone| {
        runs.iter().find_map(|run| {
            let failure = run.failures.iter().find(|failure| failure.tone == tone);
            failure
                .map(|failure| Link { to: failure.id.clone(), text: failure.heading.clone() })
                .or_else(|| (run.tone == tone).then(|| Link { to: run.id.clone(), text: run.heading.clone() }))
        })
    })
}

/// The state of a run: a word, a tone and the reason.
pub(super) fn state(state: &JobState) -> (&'static str, Tone, Option<String>) {
    match state {
        JobState::Done(outcome) => (outcome.word(), Tone::of(*outcome), None),
        JobState::Refused(why) => ("REFUSED", Tone::Bad, Some(why.clone())),
        JobState::Lost(why) => ("LOST", Tone::Bad, Some(why.clone())),
        JobState::NotDone(why) => ("NOT DONE", Tone::Odd, Some(why.clone())),
        JobState::Waiting | JobState::GoingOn => ("NOT DONE", Tone::Odd, None),
    }
}

/// The new first.
fn changes(report: &NightReport<'_>, runs: &[Run]) -> Changes {
    let mut changes = Changes { new: Vec::new(), standing: Vec::new(), over: Vec::new() };
    for (reported, run) in report.runs.iter().zip(runs) {
        let Some(assessment) = &reported.assessment else { continue };
        let link = || Link { to: run.id.clone(), text: run.heading.clone() };
        for change in &assessment.changes {
            let list = if change.is_new { &mut changes.new } else { &mut changes.standing };
            list.push(Change { text: change.finding.text.clone(), since: change.since.clone(), run: link() });
        }
        for over in &assessment.over {
            changes.over.push(Change { text: over.text.clone(), since: over.since.clone(), run: link() });
        }
    }
    changes
}
