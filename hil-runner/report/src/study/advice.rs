//! What is advised, with its reason in numbers.

use super::numbers::{celsius, milliseconds, seconds};
use super::{grid, heading, note};
use crate::look::Ink;
use crate::{TextLook, nothing, supply_word};
use slotwise_study::{Advice, AdviceVerdict, Candidate, Met, Relax, Study};
use slotwise_terms::units::count;

pub(super) fn tell(look: &TextLook, study: &Study) -> Vec<String> {
    let Some(advice) = &study.advice else {
        let is_asked = study.wishes.steps_celsius.is_some() || study.wishes.every_s.is_some();
        let text = if is_asked {
            "no recommendation without the time that requests take"
        } else {
            "for a recommendation say what you need: --steps 0.1, --every 1s, --sensors 8"
        };
        return vec![String::new(), look.wrap("", text)];
    };
    let wishes = &study.wishes;
    let mut demands = Vec::new();
    demands.extend(wishes.steps_celsius.map(|steps| format!("steps of {} degC", celsius(steps))));
    demands.extend(wishes.every_s.map(|every_s| format!("every {}", seconds(every_s))));
    demands.push(format!("from {}", count(wishes.sensors as usize, "sensor")));
    let title = format!("recommendation for {}, {} power", demands.join(", "), supply_word(Some(advice.supply)));
    let mut lines: Vec<String> = heading(look, &title).into();
    let columns = ["bits", "step", "round at most, ms", "as measured, ms", "steps", "time"];
    let rows = advice.candidates.iter().map(|candidate| {
        vec![
            candidate.resolution_bits.to_string(),
            celsius(candidate.step_celsius),
            milliseconds(candidate.datasheet_round_s * 1e6),
            candidate.measured_round_s.map_or_else(nothing, |round_s| milliseconds(round_s * 1e6)),
            met(candidate.steps).into(),
            met(candidate.every).into(),
        ]
    });
    lines.extend(grid(look, &columns, 2, rows.collect()));
    lines.extend(
        verdict(advice, study)
            .into_iter()
            .map(|(ink, text)| ink.map_or(text.clone(), |ink| ink.on(text)))
            .map(|text| note(look, &text)),
    );
    lines
}

const fn met(met: Met) -> &'static str {
    match met {
        Met::Not => "not met",
        Met::AsMeasured => "as measured",
        Met::Always => "met",
    }
}

fn verdict(advice: &Advice, study: &Study) -> Vec<(Option<Ink>, String)> {
    let wishes = &study.wishes;
    match &advice.verdict {
        AdviceVerdict::Use { resolution_bits, every } => {
            let chosen = advice.candidates.iter().find(|candidate| candidate.resolution_bits == *resolution_bits);
            let Some(chosen) = chosen else { return Vec::new() };
            let mut lines =
                vec![(Some(Ink::Good), format!("USE {resolution_bits} BITS: {}", reason(chosen, *every, study)))];
            lines.extend(caveats(chosen, study).into_iter().map(|text| (None, text)));
            lines
        }
        AdviceVerdict::None { relax } => {
            let why = "NONE of the resolutions meets all of it. Relax one of these:".to_owned();
            let both = wishes.steps_celsius.is_some_and(|steps| steps < 0.0625)
                && advice.candidates.iter().all(|candidate| candidate.every == Met::Not);
            let why = if both { "NONE of the resolutions meets any of it. Relax both:".to_owned() } else { why };
            let ways = relax.iter().map(|way| (None, way_text(way)));
            std::iter::once((Some(Ink::Bad), why)).chain(ways).collect()
        }
    }
}

fn reason(chosen: &Candidate, every: Met, study: &Study) -> String {
    let wishes = &study.wishes;
    let step = match wishes.steps_celsius {
        Some(wanted) => {
            format!("steps of {} degC are fine enough for {}", celsius(chosen.step_celsius), celsius(wanted))
        }
        None => format!("steps of {} degC are the finest in that time", celsius(chosen.step_celsius)),
    };
    let most = milliseconds(chosen.datasheet_round_s * 1e6);
    let time = match (wishes.every_s, every, chosen.measured_round_s) {
        (Some(every_s), Met::AsMeasured, Some(round_s)) => format!(
            "a round takes {} ms as measured on these sensors if the end is polled, within {}; a sensor as slow as the datasheet allows \
             makes it {most} ms",
            milliseconds(round_s * 1e6),
            seconds(every_s)
        ),
        (Some(every_s), ..) => format!("a round takes at most {most} ms, within {}", seconds(every_s)),
        (None, ..) => format!("a round takes at most {most} ms; anything finer takes longer and more charge"),
    };
    format!("{step}; {time}")
}

/// What speaks against it all the same.
fn caveats(chosen: &Candidate, study: &Study) -> Vec<String> {
    let mut lines = Vec::new();
    let row = study.noise.iter().find(|row| row.resolution_bits == Some(chosen.resolution_bits));
    let wanted = study.wishes.steps_celsius.unwrap_or(chosen.step_celsius);
    if let Some(own) = row.and_then(|row| row.own_celsius).filter(|own| *own > wanted / 2.0) {
        lines.push(format!(
            "but the noise of these sensors, {} degC, is more than half of such a step: a single reading does not show it",
            celsius(own)
        ));
    }
    // A DS18S20 takes as long as 12 bits, and a shared conversion waits for it.
    let finest = advice_of_finest(study).filter(|_| study.sensors_without_choice() > 0);
    if let (Some(every_s), Some(finest)) = (study.wishes.every_s, finest)
        && chosen.resolution_bits < 12
        && finest.every == Met::Not
    {
        lines.push(format!(
            "but not with {} on this line: a Convert T for all lasts as long as theirs, and a round up to {} ms, longer than {}",
            count(study.sensors_without_choice() as usize, "DS18S20"),
            milliseconds(finest.datasheet_round_s * 1e6),
            seconds(every_s)
        ));
    }
    lines
}

fn advice_of_finest(study: &Study) -> Option<&Candidate> {
    study.advice.as_ref()?.candidates.last()
}

fn way_text(way: &Relax) -> String {
    match way {
        Relax::Every { at_least_s, resolution_bits } => {
            format!("the time: {resolution_bits} bits need {} ms for a round", milliseconds(at_least_s * 1e6))
        }
        Relax::Steps { at_least_celsius, resolution_bits } => {
            format!("the steps: {} degC at {resolution_bits} bits", celsius(*at_least_celsius))
        }
        Relax::Sensors { at_most, resolution_bits } => {
            format!("the number: at {resolution_bits} bits {} at most on one line", count(*at_most as usize, "sensor"))
        }
    }
}
