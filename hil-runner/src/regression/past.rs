//! What a run is compared with.

use std::collections::BTreeMap;

use crate::history::{Figure, FigureKind, FigureSubject};
use crate::record::StepOutcome;

/// Runs of the past that count, the newest. Chosen: a month of nights.
pub const WINDOW: usize = 30;

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
    pub searched: usize,
}

impl Past {
    /// Adds a run, newer than all before.
    pub fn push(&mut self, run: &Observed) {
        for figure in &run.figures {
            push(self.figures.entry((figure.kind, figure.subject.clone())).or_default(), figure.clone());
        }
        for (label, outcome) in &run.steps {
            if let Some(passed) = decided(*outcome) {
                push(self.steps.entry(label.clone()).or_default(), passed);
            }
        }
        let counts = !run.figures.is_empty() || run.steps.iter().any(|(_, outcome)| decided(*outcome).is_some());
        self.runs = (self.runs + usize::from(counts)).min(WINDOW);
        self.searched = (self.searched + usize::from(searched(&run.figures))).min(WINDOW);
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

fn push<T>(list: &mut Vec<T>, item: T) {
    if list.len() == WINDOW {
        list.remove(0);
    }
    list.push(item);
}
