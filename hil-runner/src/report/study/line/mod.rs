//! A line, measured or planned, for people.

mod advice;
mod margins;
mod seen;

use super::super::look::Ink;
use super::{grid, heading, note};
use crate::record::units::{ohms, three};
use crate::report::{Look, supply_word};
use crate::rig::TimingSet;
use crate::study::line::{LineStudy, Numbers};

/// All lines of a study of a line.
#[must_use]
pub fn line_study_lines(look: &Look, study: &LineStudy) -> Vec<String> {
    let mut told = Vec::new();
    match (&study.seen, &study.numbers) {
        (Some(seen), _) => told.extend(seen::tell(look, seen)),
        (None, Some(numbers)) => told.push(look.wrap("plan      ", &plan(numbers))),
        (None, None) => {}
    }
    told.extend(margins::tell(look, study));
    if let (Some(advice), Some(numbers)) = (&study.advice, &study.numbers) {
        told.extend(advice::tell(look, advice, numbers));
    }
    told.push(String::new());
    told.extend(
        study.not_known.iter().map(|one| Ink::Odd.on(look.wrap("not known ", &format!("{}: {}", one.what, one.why)))),
    );
    told.extend(verdict(look, study));
    told
}

fn verdict(look: &Look, study: &LineStudy) -> Vec<String> {
    if study.unsound.is_empty() {
        let text = match (&study.seen, study.not_known.is_empty()) {
            (None, _) => "by its numbers; they are limits of the datasheets, and no line was looked at",
            (Some(_), true) => "every margin is kept, every sensor was found every time",
            (Some(_), false) => "as far as it is known: every margin that is, every sensor found every time",
        };
        return vec![Ink::Good.on(look.wrap("SOUND     ", text))];
    }
    study.unsound.iter().map(|why| Ink::Bad.on(look.wrap("NOT SOUND ", why))).collect()
}

/// A line in a sentence.
fn plan(numbers: &Numbers) -> String {
    let timing = match numbers.timing {
        TimingSet::Recommended => "recommended timing",
        TimingSet::LongLine => "long-line timing",
    };
    let strong = match numbers.strong_pull_up_ohm {
        Some(ohm) => format!("strong pull-up of {}", ohms(ohm)),
        None => "no strong pull-up".into(),
    };
    let circuit = numbers.circuit();
    format!(
        "{} V, pull-up {}, {} sensors with {} power, {strong}, {timing}; {} pF in all (cable at {} pF/m and master {} pF, \
         sensors 25 pF each at most): RC = {} us; at rest {} V",
        three(numbers.supply_v),
        ohms(numbers.pull_up_ohm),
        numbers.sensors,
        supply_word(Some(numbers.power)),
        three(circuit.picofarad),
        three(numbers.pf_per_m),
        three(numbers.cable_pf),
        three(circuit.time_constant_us()),
        three(circuit.idle_v().max(0.0))
    )
}

#[cfg(test)]
mod tests;
