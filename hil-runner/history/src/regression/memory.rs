//! A rig's past in memory, and the findings that stand: all that decides about the next run.

use std::collections::HashSet;

use super::about::About;
use super::detect::{Against, Names, detect_with};
use super::past::{Observed, Past};
use slotwise_past::Finding;

/// What is known of a rig before its next run.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    past: Past,
    standing: HashSet<About>,
}

impl Memory {
    pub(super) const fn new(past: Past, standing: HashSet<About>) -> Self {
        Self { past, standing }
    }

    /// What has changed in a run, each with whether it is new. Nothing is remembered.
    #[must_use]
    pub fn look(&self, now: &Observed, names: &Names) -> Vec<(Finding, bool)> {
        let against = Against { past: &self.past, names, standing: &self.standing };
        let found = detect_with(&against, now);
        found
            .into_iter()
            .map(|finding| {
                let is_new = !self.standing.contains(&About::from(&finding));
                (finding, is_new)
            })
            .collect()
    }

    /// What stood, was looked at again, and was not found.
    pub(super) fn over(&self, now: &Observed, found: &[(Finding, bool)]) -> Vec<About> {
        let is_found = |about: &About| found.iter().any(|(finding, _)| About::from(finding) == *about);
        self.standing.iter().filter(|about| about.is_looked_at(now) && !is_found(about)).cloned().collect()
    }

    /// What has changed, as [`look`](Self::look) says it; and the run becomes part of the past, but for what was found.
    pub fn next(&mut self, now: Observed, names: &Names) -> Vec<(Finding, bool)> {
        let found = self.look(&now, names);
        for about in self.over(&now, &found) {
            self.standing.remove(&about);
        }
        let left_out: HashSet<About> = found.iter().map(|(finding, _)| About::from(finding)).collect();
        self.standing.extend(left_out.iter().cloned());
        self.past.push(now, left_out);
        found
    }
}
