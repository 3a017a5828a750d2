//! A run of a history is held against its past, and what is found is kept in the history.

use std::collections::{BTreeMap, HashMap, HashSet};

use serde::Serialize;

use super::detect::Names;
use super::finding::{About, Finding};
use super::memory::Memory;
use super::past::{Observed, Past, WINDOW};
use crate::history::{FindingRow, FindingState, History, HistoryError, PastStep, RunId};

/// Runs that are looked at to fill the window: those that showed a finding do not count as past.
const LOOKED_AT: u32 = 4 * WINDOW as u32;

/// What has changed in a run.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Assessment {
    /// What stands now, what is new first.
    pub changes: Vec<Change>,
    /// What stood before and is over.
    pub over: Vec<FindingRow>,
    /// How many runs of the past there were to compare with.
    pub compared_with: usize,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Change {
    /// What was found.
    #[serde(flatten)]
    pub finding: Finding,
    /// Whether no run before has shown it.
    pub is_new: bool,
    /// The night, or the date, since when it shows.
    pub since: String,
}

/// Holds a run against the past of its rig. What is found is kept; a finding that stood and does not show any more is over.
///
/// # Errors
/// [`HistoryError`].
pub fn assess(history: &History, run: RunId) -> Result<Assessment, HistoryError> {
    let series = history.series(run)?;
    let past_runs = history.past(&series, run, LOOKED_AT)?;
    let first = past_runs.first().map_or(run, |row| row.id);
    let mut observed: BTreeMap<RunId, Observed> = past_runs.iter().map(|row| (row.id, Observed::default())).collect();
    observed.insert(run, Observed::default());
    for past in history.past_figures(&series, first, run)? {
        observed.entry(past.run).or_default().figures.push(past.figure);
    }
    for (id, steps) in numbered(history.past_steps(&series, first, run)?) {
        observed.entry(id).or_default().steps = steps;
    }
    let findings: Vec<FindingRow> =
        history.findings(Some(&series))?.into_iter().filter(|finding| finding.first_run <= run).collect();
    let now = observed.remove(&run).unwrap_or_default();
    let mut past = Past::default();
    for (id, mut seen) in observed {
        leave_out(&findings, id, &mut seen);
        past.push(&seen);
    }
    let standing: Vec<(FindingRow, About)> = findings
        .into_iter()
        .filter(|finding| finding.state == FindingState::Open)
        .filter_map(|finding| About::of(&finding.matter, &finding.subject).map(|about| (finding, about)))
        .collect();
    let names = names(history)?;
    let about: HashSet<About> = standing.iter().map(|(_, about)| about.clone()).collect();
    let found: Vec<Finding> =
        Memory::new(past, about).look(&now, &names).into_iter().map(|(finding, _)| finding).collect();
    let compared_with = past_runs.len();
    let changes = keep(history, run, &found, &standing)?;
    let over = close(history, &now, &found, standing)?;
    Ok(Assessment { changes, over, compared_with })
}

/// Steps with their outcomes; a label that occurs again in a run has a number behind it.
fn numbered(steps: Vec<PastStep>) -> HashMap<RunId, Vec<(String, crate::record::StepOutcome)>> {
    let mut of_runs: HashMap<RunId, Vec<_>> = HashMap::new();
    let mut times: HashMap<(RunId, String), u32> = HashMap::new();
    for PastStep { run, label, outcome } in steps {
        let time = times.entry((run, label.clone())).or_insert(0);
        *time += 1;
        let label = if *time == 1 { label } else { format!("{label} ({time})") };
        of_runs.entry(run).or_default().push((label, outcome));
    }
    of_runs
}

/// Takes away from a run of the past what does not count: what a finding was about while it showed, and what was before an
/// accepted one.
fn leave_out(findings: &[FindingRow], run: RunId, seen: &mut Observed) {
    for finding in findings {
        let left_out = match finding.state {
            FindingState::Accepted => run < finding.first_run,
            FindingState::Open | FindingState::Over => (finding.first_run..=finding.last_run).contains(&run),
        };
        if let (true, Some(about)) = (left_out, About::of(&finding.matter, &finding.subject)) {
            about.leave_out(seen);
        }
    }
}

/// Keeps what was found: with the finding that stands about the same thing, or as a new one.
fn keep(
    history: &History,
    run: RunId,
    found: &[Finding],
    standing: &[(FindingRow, About)],
) -> Result<Vec<Change>, HistoryError> {
    let mut changes = Vec::new();
    for finding in found {
        let (matter, subject) = finding.matter.keys();
        let about = finding.about();
        let known = standing.iter().find(|(_, standing)| *standing == about).map(|(row, _)| row);
        let since = match known {
            Some(row) => {
                history.keep_finding(row.id, run, &finding.text)?;
                row.since.clone()
            }
            None => {
                let series = history.series(run)?;
                history.open_finding(&series, run, (&matter, &subject), &finding.text)?;
                history.day(run)?
            }
        };
        // A run that is asked about twice has the same findings.
        let is_new = known.is_none_or(|row| row.first_run == run);
        changes.push(Change { finding: finding.clone(), is_new, since });
    }
    changes.sort_by_key(|change| !change.is_new);
    Ok(changes)
}

/// Ends what stood and was looked at again without being found.
fn close(
    history: &History,
    now: &Observed,
    found: &[Finding],
    standing: Vec<(FindingRow, About)>,
) -> Result<Vec<FindingRow>, HistoryError> {
    let found: HashSet<About> = found.iter().map(Finding::about).collect();
    let mut over = Vec::new();
    for (row, about) in standing {
        let looked_at = match &about {
            About::Step(label) => {
                now.steps.iter().any(|(step, outcome)| step == label && super::past::decided(*outcome).is_some())
            }
            About::Figure(crate::history::FigureKind::Found, _) => super::past::searched(&now.figures),
            About::Figure(kind, subject) => {
                now.figures.iter().any(|figure| figure.kind == *kind && figure.subject == *subject)
            }
        };
        if looked_at && !found.contains(&about) {
            history.set_finding(row.id, FindingState::Over)?;
            over.push(row);
        }
    }
    Ok(over)
}

/// What people call the sensors: their latest labels.
fn names(history: &History) -> Result<Names, HistoryError> {
    let known = history.sensors(None)?;
    let labelled = known.into_iter().filter_map(|sensor| Some((sensor.rom.parse().ok()?, sensor.label?)));
    Ok(Names(labelled.collect()))
}
