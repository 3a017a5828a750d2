//! What a run is compared with.

use std::collections::{BTreeMap, HashSet};

use super::about::About;
use slotwise_past::{Figure, FigureKind, FigureSubject};
use slotwise_record::StepOutcome;

/// Runs of the past that count, the newest. Chosen: a month of nights.
pub const WINDOW: usize = 30;

/// Runs that are looked at to fill the window: those that showed a finding do not count as past.
pub(super) const LOOKED_AT: usize = 4 * WINDOW;

/// A figure of the past.
pub type Key = (FigureKind, FigureSubject);

/// What one run showed.
#[derive(Clone, Debug, Default)]
pub struct Observed {
    /// Its figures.
    pub figures: Vec<Figure>,
    /// Its steps with what became of them; a label that occurs twice has a number behind it.
    pub steps: Vec<(String, StepOutcome)>,
}

/// The past of a rig: for each figure and step the runs that count, from the oldest.
#[derive(Clone, Debug, Default)]
pub struct Past {
    /// Figures.
    pub figures: BTreeMap<Key, Vec<Figure>>,
    /// Steps that were decided: whether they passed.
    pub steps: BTreeMap<String, Vec<bool>>,
    /// Runs that say anything.
    pub runs: usize,
    /// Runs in which sensors were searched for.
    searches: Vec<Search>,
    /// What did not count in one of the runs at least.
    left_out: HashSet<About>,
}

/// The sensors of a run in which they were searched for.
#[derive(Clone, Debug)]
struct Search {
    found: HashSet<FigureSubject>,
    /// Sensors about which the search gives no evidence, whether found or not.
    left_out: HashSet<FigureSubject>,
}

/// How often a sensor was there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Presence {
    pub(super) found: usize,
    /// Of so many runs.
    pub(super) searched: usize,
}

impl Past {
    /// Adds a run, newer than all before, in which some things do not count.
    pub(super) fn push(&mut self, mut run: Observed, left_out: HashSet<About>) {
        if searched(&run.figures) {
            let found = run.figures.iter().filter(|figure| figure.kind == FigureKind::Found);
            let sensors = left_out.iter().filter_map(About::sensor);
            let search = Search {
                found: found.map(|figure| figure.subject.clone()).collect(),
                left_out: sensors.cloned().collect(),
            };
            push(&mut self.searches, search, LOOKED_AT);
        }
        for about in &left_out {
            about.leave_out(&mut run);
        }
        self.left_out.extend(left_out);
        for figure in &run.figures {
            push(self.figures.entry((figure.kind, figure.subject.clone())).or_default(), figure.clone(), WINDOW);
        }
        for (label, outcome) in &run.steps {
            if let Some(passed) = decided(*outcome) {
                push(self.steps.entry(label.clone()).or_default(), passed, WINDOW);
            }
        }
        let counts = !run.figures.is_empty() || run.steps.iter().any(|(_, outcome)| decided(*outcome).is_some());
        self.runs = (self.runs + usize::from(counts)).min(WINDOW);
    }

    /// How often a sensor was there in the window: among the newest runs that say anything of it.
    pub(super) fn presence(&self, sensor: &FigureSubject) -> Presence {
        let searches = self.searches.iter().rev().filter(|search| !search.left_out.contains(sensor)).take(WINDOW);
        searches.fold(Presence { found: 0, searched: 0 }, |sum, search| Presence {
            found: sum.found + usize::from(search.found.contains(sensor)),
            searched: sum.searched + 1,
        })
    }

    /// What is said behind a number of runs if there were more.
    pub(super) fn but_for(&self, about: &About) -> &'static str {
        if self.left_out.contains(about) { " (those with this finding do not count)" } else { "" }
    }
}

/// Whether sensors were searched for in a run.
pub(super) fn searched(figures: &[Figure]) -> bool {
    figures.iter().any(|figure| figure.kind == FigureKind::Found)
}

/// Whether a step passed, if that was decided at all.
pub(super) const fn decided(outcome: StepOutcome) -> Option<bool> {
    match outcome {
        StepOutcome::Passed => Some(true),
        StepOutcome::Failed => Some(false),
        StepOutcome::Broken | StepOutcome::NotPossible | StepOutcome::Interrupted | StepOutcome::NotRun => None,
    }
}

fn push<T>(list: &mut Vec<T>, item: T, most: usize) {
    if list.len() == most {
        list.remove(0);
    }
    list.push(item);
}
