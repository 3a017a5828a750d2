//! What is said: plain answers, each with what to do about it.

use std::time::Duration;

use slotwise::bus::RomCode;

use crate::identify::{Found, State, confidence_text};
use crate::record::units::count;

/// A temperature difference to the hundredth of a degree, with its sign.
pub(super) fn signed(celsius: f64) -> String {
    format!("{celsius:+.2}")
}

/// `"brine bath" (28:...)`, or the ROM code alone.
pub(super) fn name(label: Option<&str>, rom: RomCode) -> String {
    label.map_or_else(|| rom.to_string(), |label| format!("{label:?} ({rom})"))
}

/// `warmer by 3.25 degC`.
pub(super) fn moved(celsius: f64) -> String {
    let direction = if celsius < 0.0 { "colder" } else { "warmer" };
    format!("{direction} by {:.2} degC", celsius.abs())
}

/// What was found, and how sure that is.
pub(super) fn found(name: &str, found: &Found) -> String {
    let cooled = if found.celsius < 0.0 { " (cooling does as well as warming)" } else { "" };
    format!(
        "{name} moves: {}{cooled} within {:.1} s, and no other; confidence {} (that it is not noise, if noise is normal and as \
         before)",
        moved(found.celsius),
        seconds(found.after_ns),
        confidence_text(found.chance)
    )
}

pub(super) fn seconds(ns: u64) -> f64 {
    Duration::from_nanos(ns).as_secs_f64()
}

/// Who is meant by several places.
pub(super) fn names(sensors: &[usize], name: &dyn Fn(usize) -> String) -> String {
    const MOST: usize = 4;
    let shown: Vec<String> = sensors.iter().take(MOST).map(|sensor| name(*sensor)).collect();
    let shown = shown.join(", ");
    match sensors.len().saturating_sub(MOST) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// What a state means, for those of which something must be said while it lasts.
pub(super) fn remark(state: &State, name: &dyn Fn(usize) -> String) -> Option<String> {
    Some(match state {
        State::Several(who) => format!(
            "{} move at once: nobody is named; let go of all but one, and keep hands and breath away from the others",
            names(who, name)
        ),
        State::Everything => {
            "all move alike, which no hand does (a draught, the sun, a door): nobody is named until that is over".into()
        }
        State::Unseen { moving, silent } => format!(
            "{} moves, but {} no longer answers and may move as well: nobody is named; look at its wires",
            name(*moving),
            names(silent, name)
        ),
        State::Ready { restless, silent } if !restless.is_empty() || !silent.is_empty() => {
            let restless = (!restless.is_empty()).then(|| format!("{} does not come to rest", names(restless, name)));
            let silent = (!silent.is_empty()).then(|| format!("{} does not answer each time", names(silent, name)));
            let why: Vec<String> = restless.into_iter().chain(silent).collect();
            format!("{}, and cannot be named now", why.join("; "))
        }
        State::Settling(_) | State::Ready { .. } | State::Still | State::Moving(_) | State::Found(_) => return None,
    })
}

/// Why nobody was named when the time was over.
pub(super) fn missed(state: &State, least_celsius: f64, limit: Duration, name: &dyn Fn(usize) -> String) -> String {
    match remark(state, name) {
        Some(remark) => remark,
        None => format!(
            "nobody has moved by {least_celsius} degC within {}: hold the end of the lead itself, wait longer for a thick tube \
             (--limit), or cool it where the room is as warm as a hand",
            humantime::format_duration(limit)
        ),
    }
}

/// Those that have moved most so far, and how much time is left.
pub(super) fn standing(departures: &[Option<f64>], left: Duration, name: &dyn Fn(usize) -> String) -> String {
    let mut departed: Vec<(usize, f64)> =
        departures.iter().zip(0..).filter_map(|(departure, sensor)| Some((sensor, (*departure)?))).collect();
    departed.sort_by(|(_, one), (_, other)| other.abs().total_cmp(&one.abs()));
    let most: Vec<String> =
        departed.iter().take(3).map(|(sensor, celsius)| format!("{} {}", name(*sensor), signed(*celsius))).collect();
    format!(
        "{:4} s left; degC from rest: {}",
        left.as_secs(),
        if most.is_empty() { "-".into() } else { most.join(", ") }
    )
}

/// What is watched while nobody may touch anything.
pub(super) fn hands_off(sensors: usize) -> String {
    format!("hands off: watching {} until all rest", count(sensors, "sensor"))
}
