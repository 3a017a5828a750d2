//! Verdicts in words.

use super::look::Ink;
use super::{MARGIN, TextLook};
use slotwise_record::{Ruling, Verdict};

/// A verdict in one sentence: the sensor, the expected value, its source and the value received.
pub(super) fn sentence(verdict: &Verdict) -> String {
    let who = verdict.sensor.as_ref().map(ToString::to_string);
    about(who.as_deref(), verdict)
}

fn about(who: Option<&str>, verdict: &Verdict) -> String {
    let who = who.map_or(String::new(), |who| format!("{who}: "));
    let Verdict { check, expected, source, got, .. } = verdict;
    format!("{who}{}: expected {expected} ({source}), got {got}", check.words())
}

/// The verdicts that a reader must see: all that are not met, and of those that are met the ones about several sensors.
/// What is the same of several sensors is said once.
pub(super) fn lines(look: &TextLook, verdicts: &[Verdict]) -> Vec<String> {
    let mut groups: Vec<Vec<&Verdict>> = Vec::new();
    for verdict in verdicts.iter().filter(|verdict| !verdict.is_met() || verdict.sensor.is_none()) {
        let same = |group: &&mut Vec<&Verdict>| {
            group
                .first()
                .is_some_and(|first| about(None, first) == about(None, verdict) && first.ruling == verdict.ruling)
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.push(verdict),
            None => groups.push(vec![verdict]),
        }
    }
    groups.iter().map(|group| line(look, group)).collect()
}

/// One line for verdicts that say the same of one or several sensors.
fn line(look: &TextLook, group: &[&Verdict]) -> String {
    let text = match group {
        [] => return String::new(),
        [one] => sentence(one),
        [first, ..] => {
            let labels: Vec<String> = group
                .iter()
                .filter_map(|verdict| verdict.sensor.as_ref())
                .map(|sensor| sensor.label.clone().unwrap_or_else(|| sensor.rom.to_string()))
                .collect();
            about(Some(&labels.join(", ")), first)
        }
    };
    let word = group[0].ruling.word();
    // Painted after wrapping, which would count the paint.
    look.wrap(&format!("{MARGIN}{word}: "), &text).replacen(word, &Ink::from(group[0].ruling).on(word), 1)
}

/// The worst ruling among verdicts.
pub(super) fn worst<'a>(verdicts: impl Iterator<Item = &'a Verdict>) -> Ruling {
    let badness = |ruling| match ruling {
        Ruling::Met => 0,
        Ruling::CannotTell => 1,
        Ruling::NotMet => 2,
    };
    verdicts.map(|verdict| verdict.ruling).max_by_key(|ruling| badness(*ruling)).unwrap_or(Ruling::Met)
}

/// Paints the words of rulings in the lines of a table.
pub(super) fn painted(line: String) -> String {
    let Some((rest, word)) = [Ruling::NotMet, Ruling::CannotTell, Ruling::Met]
        .into_iter()
        .find_map(|ruling| Some((line.strip_suffix(ruling.word())?.to_owned(), ruling)))
    else {
        return line;
    };
    format!("{rest}{}", Ink::on(Ink::from(word), word.word()))
}
