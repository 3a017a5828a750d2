//! A run of a history is held against its past, and what is found is kept in the history.

use std::collections::{BTreeMap, HashMap, HashSet};

use super::about::About;
use super::detect::Names;
use super::memory::Memory;
use super::past::{LOOKED_AT, Observed, Past};
use crate::{Added, History, HistoryError, RunPlace, Writing};
use slotwise_past::{Assessment, Change, Finding, FindingRow, FindingState, PastStep, RunId, Series};
use slotwise_record::Record;

/// Adds a run to a history, and keeps what has changed in it: both or neither, and no other program adds one in
/// between.
///
/// # Errors
/// [`HistoryError`].
pub fn add_run(
    history: &mut History,
    record: &Record,
    place: RunPlace<'_>,
) -> Result<(Added, Assessment), HistoryError> {
    let writing = history.write()?;
    let added = writing.add(record, place)?;
    let assessed = AssessedRun::at(&writing, added.id())?;
    if let Added::New(_) = added {
        assessed.keep(&writing)?;
    }
    writing.keep()?;
    Ok((added, assessed.assessment))
}

/// The changes of a run against the past of its rig. It writes nothing, and later runs do not alter the result.
///
/// # Errors
/// [`HistoryError`].
pub fn assess(history: &History, run: RunId) -> Result<Assessment, HistoryError> {
    AssessedRun::at(history, run).map(|assessed| assessed.assessment)
}

/// A run compared with the past of its rig.
struct AssessedRun {
    run: RunId,
    series: Series,
    assessment: Assessment,
    /// For each change, the number of the finding that stood before it.
    known: Vec<Option<i64>>,
}

impl AssessedRun {
    /// Compares a run with the past of its rig.
    fn at(history: &History, run: RunId) -> Result<Self, HistoryError> {
        let series = history.series(run)?;
        let mut seen = seen(history, &series, run)?;
        let now = seen.remove(&run).unwrap_or_default();
        let mut findings = history.findings(Some(&series))?;
        findings.retain(|finding| finding.first_run <= run);
        let standing = standing(&findings, run, &seen);
        let mut past = Past::default();
        for (id, one) in seen {
            past.push(one, left_out(&findings, id));
        }
        let compared_with = past.runs;
        let memory = Memory::new(past, standing.iter().map(|(about, _)| about.clone()).collect());
        let found = memory.look(&now, &names(history)?);
        let ended = memory.over(&now, &found);
        let mut changes = Vec::new();
        for (finding, is_new) in found {
            let about = About::from(&finding);
            let known = standing.iter().find(|(standing, _)| *standing == about).map(|(_, row)| row);
            let since = known.map_or_else(|| history.day(run), |row| Ok(row.since.clone()))?;
            changes.push((Change { finding, is_new, since }, known.map(|row| row.id)));
        }
        changes.sort_by_key(|(change, _)| !change.is_new);
        let (changes, known) = changes.into_iter().unzip();
        let over = standing
            .into_iter()
            .filter(|(about, _)| ended.contains(about))
            .map(|(_, row)| FindingRow { state: FindingState::Over, ..row });
        let assessment = Assessment { changes, over: over.collect(), compared_with };
        Ok(Self { run, series, assessment, known })
    }

    /// Keeps what was found: with the finding that stands about the same thing, or as a new one. Ends what is over.
    fn keep(&self, writing: &Writing<'_>) -> Result<(), HistoryError> {
        for (change, known) in self.assessment.changes.iter().zip(&self.known) {
            let Finding { matter, text } = &change.finding;
            match known {
                Some(id) => writing.keep_finding(*id, self.run, text)?,
                None => {
                    let (matter, subject) = matter.keys();
                    writing.open_finding(&self.series, self.run, (&matter, &subject), text)?;
                }
            }
        }
        for row in &self.assessment.over {
            writing.set_finding(row.id, FindingState::Over)?;
        }
        Ok(())
    }
}

/// What a run and those before it showed.
fn seen(history: &History, series: &Series, run: RunId) -> Result<BTreeMap<RunId, Observed>, HistoryError> {
    let past_runs = history.past(series, run, LOOKED_AT as u32)?;
    let first = past_runs.first().map_or(run, |row| row.id);
    let mut seen: BTreeMap<RunId, Observed> = past_runs.iter().map(|row| (row.id, Observed::default())).collect();
    for past in history.past_figures(series, first, run)? {
        seen.entry(past.run).or_default().figures.push(past.figure);
    }
    for (id, steps) in numbered(history.past_steps(series, first, run)?) {
        seen.entry(id).or_default().steps = steps;
    }
    Ok(seen)
}

/// The findings that stood before a run, with what they are about.
///
/// One that is over now stood then if no run between its last and this one looked at it: so a run that is asked about
/// again, after others were added, says what it said first.
fn standing(findings: &[FindingRow], run: RunId, seen: &BTreeMap<RunId, Observed>) -> Vec<(About, FindingRow)> {
    let stood = |row: &FindingRow, about: &About| match row.state {
        FindingState::Accepted => false,
        FindingState::Open => true,
        FindingState::Over if row.last_run >= run => true,
        FindingState::Over => {
            let mut between = seen.range(row.last_run + 1..run);
            seen.contains_key(&row.last_run) && !between.any(|(_, one)| about.is_looked_at(one))
        }
    };
    let before = findings.iter().filter(|row| row.first_run < run);
    let about = |row: &FindingRow| About::of(&row.matter, &row.subject);
    before.filter_map(|row| about(row).filter(|about| stood(row, about)).map(|about| (about, row.clone()))).collect()
}

/// Steps with their outcomes; a label that occurs again in a run has a number behind it.
fn numbered(steps: Vec<PastStep>) -> HashMap<RunId, Vec<(String, slotwise_record::StepOutcome)>> {
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

/// What does not count in a run of the past: what a finding was about while it showed, and what was before an accepted
/// one.
fn left_out(findings: &[FindingRow], run: RunId) -> HashSet<About> {
    let is_left_out = |finding: &&FindingRow| match finding.state {
        FindingState::Accepted => run < finding.first_run,
        FindingState::Open | FindingState::Over => (finding.first_run..=finding.last_run).contains(&run),
    };
    let left_out = findings.iter().filter(is_left_out);
    left_out.filter_map(|finding| About::of(&finding.matter, &finding.subject)).collect()
}

/// What people call the sensors: their latest labels.
fn names(history: &History) -> Result<Names, HistoryError> {
    let known = history.sensors(None)?;
    let labelled = known.into_iter().filter_map(|sensor| Some((sensor.rom.parse().ok()?, sensor.label?)));
    Ok(Names(labelled.collect()))
}
