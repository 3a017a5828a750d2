//! A change that several runs of a night show is one change.

use std::collections::HashSet;

use super::about::About;
use slotwise_past::{Assessment, Series};

/// What the runs of a night have told.
#[derive(Clone, Debug, Default)]
pub struct ShownChanges {
    new: HashSet<(Series, About)>,
    all: HashSet<(Series, About)>,
}

impl ShownChanges {
    /// Takes the changes away that were told already, and says how many. Runs must come in the order in which the history has
    /// them. What stood before, was over and begins again in the night is told both ways.
    pub fn leave_untold(&mut self, series: &Series, assessment: &mut Assessment) -> usize {
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
    fn each_change_of_a_night_is_told_once() {
        let series = |scenario: &str| Series { rig: "r".into(), kind: "virtual".into(), scenario: scenario.into() };
        let mut told = ShownChanges::default();
        let mut tell = |scenario: &str, changes: &[(&str, bool)]| {
            let change = |&(label, is_new): &(&str, bool)| Change {
                finding: Finding { matter: Matter::Step { label: label.into() }, text: String::new() },
                is_new,
                since: String::new(),
            };
            let changes = changes.iter().map(change).collect();
            let mut assessment = Assessment { changes, ..Assessment::default() };
            let again = told.leave_untold(&series(scenario), &mut assessment);
            (assessment.changes.into_iter().map(|change| About::from(&change.finding)).collect::<Vec<_>>(), again)
        };
        let step = |label: &str| About::Step(label.into());
        assert_eq!(tell("one", &[("a", true), ("b", false)]), (vec![step("a"), step("b")], 0));
        assert_eq!(tell("one", &[("a", false), ("b", false), ("c", true)]), (vec![step("c")], 2));
        assert_eq!(tell("other", &[("a", true)]), (vec![step("a")], 0), "of another scenario");
        assert_eq!(tell("one", &[("a", true), ("b", true)]), (vec![step("b")], 1), "they were over in between");
    }
}
