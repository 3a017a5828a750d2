//! Reports a change once per night, however many runs show it.

use std::collections::HashSet;

use super::about::About;
use slotwise_past::{Assessment, Series};

/// Changes that the runs of a night have reported so far.
#[derive(Clone, Debug, Default)]
pub struct ShownChanges {
    new: HashSet<(Series, About)>,
    all: HashSet<(Series, About)>,
}

impl ShownChanges {
    /// Removes the changes that an earlier run of the night has reported, and returns their number. Runs must be passed
    /// in the order of the history. A change that stood before the night, ended and began again is reported both as
    /// standing and as new.
    pub fn retain_unreported(&mut self, series: &Series, assessment: &mut Assessment) -> usize {
        let before = assessment.changes.len();
        assessment.changes.retain(|change| {
            let key = (series.clone(), About::from(&change.finding));
            let is_first = self.all.insert(key.clone());
            if change.is_new { self.new.insert(key) } else { is_first }
        });
        before - assessment.changes.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use slotwise_past::{Change, Finding, Matter};

    #[test]
    fn each_change_of_a_night_is_reported_once() {
        let series = |scenario: &str| Series { rig: "r".into(), kind: "virtual".into(), scenario: scenario.into() };
        let mut reported = ShownChanges::default();
        let mut report = |scenario: &str, changes: &[(&str, bool)]| {
            let change = |&(label, is_new): &(&str, bool)| Change {
                finding: Finding { matter: Matter::Step { label: label.into() }, text: String::new() },
                is_new,
                since: String::new(),
            };
            let changes = changes.iter().map(change).collect();
            let mut assessment = Assessment { changes, ..Assessment::default() };
            let again = reported.retain_unreported(&series(scenario), &mut assessment);
            (assessment.changes.into_iter().map(|change| About::from(&change.finding)).collect::<Vec<_>>(), again)
        };
        let step = |label: &str| About::Step(label.into());
        assert_eq!(report("one", &[("a", true), ("b", false)]), (vec![step("a"), step("b")], 0));
        assert_eq!(report("one", &[("a", false), ("b", false), ("c", true)]), (vec![step("c")], 2));
        assert_eq!(report("other", &[("a", true)]), (vec![step("a")], 0), "of another scenario");
        assert_eq!(report("one", &[("a", true), ("b", true)]), (vec![step("b")], 1), "they were over in between");
    }
}
