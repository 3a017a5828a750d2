//! What is advised, with formula and source.

use super::{column, grid, heading, note};
use crate::{TextLook, nothing};
use slotwise_study::line::figures::{DC, LOOP_OHM_PER_M, USUAL_OHM};
use slotwise_study::line::{
    LineAdvice, LineStudy, Margin, Numbers, ParasiteAdvice, PullUpAdvice, PullUpSource, Remedy, SlotTiming,
};
use slotwise_terms::input::words::or;
use slotwise_terms::units::{count, ohms, three};

pub(super) fn tell(look: &TextLook, advice: &LineAdvice, numbers: &Numbers, study: &LineStudy) -> Vec<String> {
    let mut lines: Vec<String> = heading(look, "pull-up").into();
    lines.extend(pull_up(&advice.pull_up, numbers, study).iter().map(|text| note(look, text)));
    lines.extend(heading(look, &format!("room, with the pull-up of {}", ohms(numbers.pull_up_ohm))));
    let picofarad = numbers.circuit().picofarad;
    let rows = advice.room.iter().map(|room| {
        vec![
            column::limit(look, room.parameter.words()),
            column::where_wide(look, room.parameter.against()),
            room.most_pf.map_or_else(nothing, three),
            column::where_not_narrow(look, room.most_pf.map_or_else(nothing, |most_pf| three(most_pf - picofarad))),
            room.cable_more_m.map_or_else(nothing, tenths),
        ]
    });
    let columns = if column::is_narrow(look) {
        ["limit", "held against", "most pF", "more, pF", "more m"]
    } else {
        ["limit", "held against", "at most, pF", "more, pF", "more cable, m"]
    };
    lines.extend(grid(look, &columns, 2, rows.collect()));
    lines.extend(room(advice, numbers).iter().map(|text| note(look, text)));
    lines.extend(heading(look, "parasite power"));
    lines.extend(parasite(&advice.parasite, numbers).iter().map(|text| note(look, text)));
    lines
}

/// Metres to the tenth, towards what is safe.
fn tenths(metres: f64) -> String {
    format!("{:.1}", (metres * 10.0).floor() / 10.0)
}

fn pull_up(advice: &PullUpAdvice, numbers: &Numbers, study: &LineStudy) -> Vec<String> {
    let mut lines = vec![format!(
        "at least {}, or a sensor cannot pull the line low: {} ({DC}, IL at 0.4 V)",
        ohms(advice.floor_ohm),
        advice.floor_formula
    )];
    lines.push(match advice.ceiling_ohm {
        Some(ohm) => format!("at most {}: with more, \"{}\" is broken", ohms(ohm), advice.ceiling_by.words()),
        None => format!("none is small enough: \"{}\" is beyond its limit with any", advice.ceiling_by.words()),
    });
    if let Some(ohm) = advice.ceiling_by_current_ohm {
        lines.push(format!(
            "by the sensors' input current alone at most {}: {} x 5 uA leave the line just high ({DC}, input current, typical)",
            ohms(ohm),
            numbers.sensors
        ));
    }
    let fitting = &advice.fitting_ohm;
    lines.push(match (advice.use_ohm, fitting.first(), fitting.last()) {
        (Some(ohm), Some(first), Some(last)) => {
            let usual = if ohm == USUAL_OHM { "the usual one" } else { "the largest that does" };
            let is_there = study.pull_up == PullUpSource::Stated && f64::from(ohm) == numbers.pull_up_ohm;
            let is = if is_there { "as it is" } else { usual };
            let fitting = if first == last {
                format!("only {} will do", ohms((*first).into()))
            } else {
                format!("{} to {} will do", ohms((*first).into()), ohms((*last).into()))
            };
            format!("FIT {}, {is}; of the series E24, which may be off by 5 %, {fitting}", ohms(ohm.into()))
        }
        _ if study.pull_up == PullUpSource::Stated && study.margins.iter().all(Margin::is_kept) => format!(
            "leave {}, as it is: it does, though no resistor of the series E24, which may be off by 5 %, is sure to; {}",
            ohms(numbers.pull_up_ohm),
            remedies(&advice.remedies)
        ),
        _ => format!("NO resistor of the series E24 will do: {}", remedies(&advice.remedies)),
    });
    lines
}

fn remedies(remedies: &[Remedy]) -> String {
    let words: Vec<&str> = remedies.iter().map(|remedy| remedy.words()).collect();
    if words.is_empty() { "no change of one thing alone helps".into() } else { format!("{} would help", or(&words)) }
}

fn room(advice: &LineAdvice, numbers: &Numbers) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(first) = advice.room.first() {
        let (name, per_m) = (first.parameter.words(), three(numbers.pf_per_m));
        lines.extend(match (first.most_pf, advice.cable_more_m) {
            (None, _) => Some(format!("no cable is short enough for \"{name}\"")),
            (_, Some(more_m)) if more_m >= 0.0 => {
                Some(format!("{} m more cable of {per_m} pF/m until \"{name}\" is gone", tenths(more_m)))
            }
            (_, Some(more_m)) => {
                let much_m = (-more_m).min(numbers.cable_m());
                Some(format!(
                    "{} m too much cable of {per_m} pF/m for \"{name}\"",
                    tenths((much_m * 10.0).ceil() / 10.0)
                ))
            }
            (_, None) => None,
        });
    }
    let by = advice.sensors_by.words();
    lines.push(match advice.sensors_more {
        Some(more @ 0..) => {
            format!("{} more, of 25 pF and 5 uA each, until \"{by}\" is gone", sensors(more))
        }
        Some(more) => format!("{} too many for \"{by}\"", sensors(more)),
        None => format!("not even a line without sensors keeps \"{by}\""),
    });
    let slow = match numbers.timing {
        SlotTiming::ShortLine | SlotTiming::LongLine => {
            "the driver waits where it sees the line still low before a slot, so a line beyond \"recovery between slots\" may \
             answer, slower and outside the datasheet; one beyond \"rise after a reset\" it refuses"
        }
        SlotTiming::Uart => {
            "a serial adapter waits for no line: one beyond \"rise before the read sample\" reads 0 in every slot, as if a \
             sensor pulled, and its written ones fail"
        }
    };
    lines.push(slow.into());
    lines
}

fn sensors(number: i64) -> String {
    count(usize::try_from(number.unsigned_abs()).unwrap_or(usize::MAX), "sensor")
}

fn parasite(advice: &ParasiteAdvice, numbers: &Numbers) -> Vec<String> {
    let source = format!("{DC}: active current 1.5 mA at most, VPU 3.0 V at least");
    let mut lines = vec![match advice.by_resistor {
        0 => format!("the resistor alone carries no conversion: {} sensors ({source})", advice.resistor_formula),
        number => format!(
            "the resistor alone leaves 3.0 V for {} at a time: {} ({source}); the datasheet asks for a strong pull-up all the \
             same",
            count(number as usize, "conversion"),
            advice.resistor_formula
        ),
    }];
    lines.push(match (&advice.strong_formula, advice.by_strong_pull_up) {
        (Some(formula), Some(number)) => {
            format!("with the strong pull-up {} at once: {formula}", count(number as usize, "sensor"))
        }
        _ => "how many a strong pull-up carries, --strong-pull-up \"10 ohm\" tells".into(),
    });
    if numbers.parasites == 0 {
        lines.push("no sensor here needs it: every sensor has a supply wire".into());
    }
    lines.push(format!(
        "the cable counts with {} ohm per metre of both wires, {} here (AWG 24 copper, common practice), as if all sensors were at \
         its far end; thinner wire carries fewer",
        three(LOOP_OHM_PER_M),
        ohms(advice.loop_ohm)
    ));
    lines
}
