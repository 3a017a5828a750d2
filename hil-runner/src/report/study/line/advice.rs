//! What is advised, with formula and source.

use slotwise::thermometer::Supply;

use super::{grid, heading, note};
use crate::record::units::{count, ohms, three};
use crate::report::{Look, nothing};
use crate::study::line::figures::{DC, USUAL_OHM};
use crate::study::line::{LineAdvice, Numbers, ParasiteAdvice, PullUpAdvice};

pub(super) fn tell(look: &Look, advice: &LineAdvice, numbers: &Numbers) -> Vec<String> {
    let mut told: Vec<String> = heading(look, "pull-up").into();
    told.extend(pull_up(&advice.pull_up, numbers).iter().map(|text| note(look, text)));
    told.extend(heading(look, &format!("room, with the pull-up of {}", ohms(numbers.pull_up_ohm))));
    let rows = advice.room.iter().map(|room| {
        vec![
            room.parameter.words().into(),
            room.parameter.against().into(),
            three(room.most_pf),
            three(room.most_pf - numbers.circuit().picofarad),
            room.cable_more_m.map_or_else(nothing, tenths),
        ]
    });
    told.extend(grid(look, &["limit", "held against", "at most, pF", "more, pF", "more cable, m"], 2, rows.collect()));
    told.extend(room(advice, numbers).iter().map(|text| note(look, text)));
    told.extend(heading(look, "parasite power"));
    told.extend(parasite(&advice.parasite, numbers).iter().map(|text| note(look, text)));
    told
}

/// Metres to the tenth, towards what is safe.
fn tenths(metres: f64) -> String {
    format!("{:.1}", (metres * 10.0).floor() / 10.0)
}

fn pull_up(advice: &PullUpAdvice, numbers: &Numbers) -> Vec<String> {
    let mut told = vec![format!(
        "at least {}, or a sensor cannot pull the line low: {} ({DC}, IL at 0.4 V)",
        ohms(advice.floor_ohm),
        advice.floor_formula
    )];
    told.push(match advice.ceiling_ohm {
        Some(ohm) => format!("at most {}: with more, \"{}\" is broken", ohms(ohm), advice.ceiling_by.words()),
        None => format!("none is small enough: \"{}\" is beyond its limit with any", advice.ceiling_by.words()),
    });
    if let Some(ohm) = advice.ceiling_by_current_ohm {
        told.push(format!(
            "by the sensors' input current alone at most {}: {} x 5 uA leave the line just high ({DC}, input current, typical)",
            ohms(ohm),
            numbers.sensors
        ));
    }
    let fitting = &advice.fitting_ohm;
    told.push(match (advice.use_ohm, fitting.first(), fitting.last()) {
        (Some(ohm), Some(first), Some(last)) => {
            let usual = if ohm == USUAL_OHM { "the usual one" } else { "the largest that does" };
            let is = if f64::from(ohm) == numbers.pull_up_ohm { "as it is" } else { usual };
            let (first, last) = (ohms((*first).into()), ohms((*last).into()));
            format!(
                "FIT {}, {is}; of the series E24, which may be off by 5 %, {first} to {last} will do",
                ohms(ohm.into())
            )
        }
        _ => "NO resistor of the series E24 will do: shorter cable, fewer sensors, or slower timing".into(),
    });
    told
}

fn room(advice: &LineAdvice, numbers: &Numbers) -> Vec<String> {
    let mut told = Vec::new();
    let first = advice.room.first().map_or("", |room| room.parameter.words());
    told.extend(advice.cable_more_m.map(|more_m| {
        let (more, per_m) = (tenths(more_m.abs()), three(numbers.pf_per_m));
        if more_m >= 0.0 {
            format!("{more} m more cable of {per_m} pF/m until \"{first}\" is gone")
        } else {
            format!("{} m too much cable of {per_m} pF/m for \"{first}\"", tenths(-more_m + 0.1))
        }
    }));
    let by = advice.sensors_by.words();
    told.push(match advice.sensors_more {
        Some(more @ 0..) => {
            format!("{} more, of 25 pF and 5 uA each, until \"{by}\" is gone", sensors(more))
        }
        Some(more) => format!("{} too many for \"{by}\"", sensors(more)),
        None => format!("not even a line without sensors keeps \"{by}\""),
    });
    told.push(
        "the driver waits where it sees the line still low before a slot, so a line beyond \"recovery between slots\" may \
         answer, slower and outside the datasheet; one beyond \"rise after a reset\" it refuses"
            .into(),
    );
    told
}

fn sensors(number: i64) -> String {
    count(usize::try_from(number.unsigned_abs()).unwrap_or(usize::MAX), "sensor")
}

fn parasite(advice: &ParasiteAdvice, numbers: &Numbers) -> Vec<String> {
    let source = format!("{DC}: active current 1.5 mA at most, VPU 3.0 V at least");
    let mut told = vec![match advice.by_resistor {
        0 => format!("the resistor alone carries no conversion: {} sensors ({source})", advice.resistor_formula),
        number => format!(
            "the resistor alone leaves 3.0 V for {} at a time: {} ({source}); the datasheet asks for a strong pull-up all the \
             same",
            count(number as usize, "conversion"),
            advice.resistor_formula
        ),
    }];
    told.push(match (&advice.strong_formula, advice.by_strong_pull_up) {
        (Some(formula), Some(number)) => {
            format!("with the strong pull-up {} at once: {formula}", count(number as usize, "sensor"))
        }
        _ => "no strong pull-up is known: --strong-pull-up \"10 ohm\" tells how many it carries".into(),
    });
    if numbers.power == Supply::Local {
        told.push("nobody here needs it: every sensor has a supply wire".into());
    }
    told.push("resistance of the cable is not counted; it takes from what is left".into());
    told
}
