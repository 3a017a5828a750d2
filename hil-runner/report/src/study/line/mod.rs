//! A line, measured or planned, for people.

mod advice;
mod column;
mod margins;
mod seen;

use super::super::look::Ink;
use super::{grid, heading, note};
use crate::{TextLook, supply_word};
use slotwise_study::line::{LineStudy, Numbers, StrongPullUp};
use slotwise_terms::units::{count, ohms, three};

/// All lines of a study of a line.
#[must_use]
pub fn line_study_lines(look: &TextLook, study: &LineStudy) -> Vec<String> {
    let mut lines = Vec::new();
    match (&study.seen, &study.numbers) {
        (Some(seen), _) => lines.extend(seen::tell(look, seen)),
        (None, Some(numbers)) => lines.push(look.wrap("plan      ", &plan(numbers))),
        (None, None) => {}
    }
    lines.extend(margins::tell(look, study));
    if let (Some(advice), Some(numbers)) = (&study.advice, &study.numbers) {
        lines.extend(advice::tell(look, advice, numbers, study));
    }
    lines.push(String::new());
    lines.extend(
        study.not_known.iter().map(|one| Ink::Odd.on(look.wrap("not known ", &format!("{}: {}", one.what, one.why)))),
    );
    lines.extend(study.remarks.iter().map(|remark| Ink::Odd.on(look.wrap("mind      ", remark))));
    lines.extend(verdict(look, study));
    lines
}

fn verdict(look: &TextLook, study: &LineStudy) -> Vec<String> {
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
    let strong = match numbers.strong_pull_up {
        StrongPullUp::Ohm(ohm) => format!("strong pull-up of {}", ohms(ohm)),
        StrongPullUp::None => "no strong pull-up".into(),
        StrongPullUp::Unsaid => "a strong pull-up".into(),
    };
    let on_parasite_power = match numbers.parasites {
        some if some > 0 && some < numbers.sensors => format!(" ({some} of them)"),
        _ => String::new(),
    };
    let circuit = numbers.circuit();
    format!(
        "{} V, pull-up {}, {} with {} power{on_parasite_power}, {strong}, {}; {} pF in all (cable at {} pF/m and master {} pF, \
         sensors 25 pF each at most): RC = {} us; at rest {} V",
        three(numbers.supply_v),
        ohms(numbers.pull_up_ohm),
        count(numbers.sensors as usize, "sensor"),
        supply_word(Some(numbers.power())),
        numbers.timing.words(),
        three(circuit.picofarad),
        three(numbers.pf_per_m),
        three(numbers.cable_pf),
        three(circuit.time_constant_us()),
        three(circuit.idle_v())
    )
}

#[cfg(test)]
mod tests;
