//! What is said: plain answers, each with what to do about it.

use std::time::Duration;

use slotwise::bus::RomCode;

use slotwise_study::identify::{MovedSensor, State, Unnamed, confidence_text};
use slotwise_terms::units::count;

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
pub(super) fn found(name: &str, found: &MovedSensor) -> String {
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

/// `1m 46s`: nobody waits for parts of a second.
pub(super) fn whole_seconds(time: Duration) -> humantime::FormattedDuration {
    humantime::format_duration(Duration::from_secs(time.as_secs_f64().round() as u64))
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

/// Whether there is more to say than what was told last: something else is the matter, or somebody else takes part.
pub(super) fn is_news(told: &State, now: &State) -> bool {
    let who = |state: &State| match state {
        State::Several(who) => who.clone(),
        State::Unseen { moving, silent } => [&[*moving], silent.as_slice()].concat(),
        _ => Vec::new(),
    };
    let known = who(told);
    std::mem::discriminant(told) != std::mem::discriminant(now) || who(now).iter().any(|one| !known.contains(one))
}

/// What a state means, for those of which something must be said while it lasts.
pub(super) fn remark(
    state: &State,
    name: &dyn Fn(usize) -> String,
    why_silent: &dyn Fn(usize) -> Option<String>,
) -> Option<String> {
    Some(match state {
        State::Several(who) => format!(
            "{} move at once: nobody is named; let go of all but one, and keep hands and breath away from the others",
            names(who, name)
        ),
        State::Everything => {
            "all or most move alike, which no hand does (a draught, the sun, a door): nobody is named until that is over".into()
        }
        State::Unseen { moving, silent } => format!(
            "{} moves, but {} gives no number any more and may move as well: nobody is named; look at its wires",
            name(*moving),
            names(silent, name)
        ),
        State::Ready { restless, silent } if !restless.is_empty() || !silent.is_empty() => {
            let restless = (!restless.is_empty()).then(|| format!("{} does not come to rest", names(restless, name)));
            let silent = silent.iter().map(|sensor| {
                let why = why_silent(*sensor).map_or(String::new(), |why| format!(" ({why})"));
                format!("{} does not give a new number each time{why}", name(*sensor))
            });
            let why: Vec<String> = restless.into_iter().chain(silent).collect();
            format!("{}, and cannot be named now", why.join("; "))
        }
        State::Settling(_) | State::Ready { .. } | State::Still | State::Moving(_) | State::Found(_) => return None,
    })
}

/// Why nobody was named when the time was over.
pub(super) fn missed(
    (state, unnamed): (&State, Option<Unnamed>),
    least_celsius: f64,
    limit: Duration,
    name: &dyn Fn(usize) -> String,
    why_silent: &dyn Fn(usize) -> Option<String>,
) -> String {
    match (remark(state, name, why_silent), unnamed) {
        (Some(remark), _) => remark,
        (None, Some(Unnamed { sensor, celsius, was_sure })) => format!(
            "{} has moved by {} degC within {}, but {} to be named: take it and hold it until it is named, or wait longer (--limit)",
            name(sensor),
            signed(celsius),
            whole_seconds(limit),
            if was_sure { "not for long enough" } else { "not for long enough or not surely enough" }
        ),
        (None, None) => format!(
            "nobody has moved by {least_celsius} degC within {}: hold the end of the lead itself, wait longer for a thick tube \
             (--limit), or cool it where the room is as warm as a hand",
            whole_seconds(limit)
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

#[cfg(test)]
mod tests {
    use super::*;

    fn name(sensor: usize) -> String {
        format!("s{sensor}")
    }

    #[test]
    fn times_have_no_parts_of_a_second() {
        let left = Duration::from_nanos(105_999_989_696);
        let missed = missed((&State::Still, None), 1.0, left, &name, &|_| None);
        assert!(missed.starts_with("nobody has moved by 1 degC within 1m 46s: "), "{missed}");
    }

    #[test]
    fn somebody_else_is_news_and_the_same_ones_are_not() {
        let several = |who: &[usize]| State::Several(who.to_vec());
        assert!(is_news(&State::Still, &several(&[0, 1])));
        assert!(!is_news(&several(&[0, 1]), &several(&[1, 0])));
        assert!(is_news(&several(&[0, 1]), &several(&[2, 3])));
        assert!(!is_news(&several(&[0, 1, 2]), &several(&[0, 1])));
        let unseen = |silent| State::Unseen { moving: 0, silent: vec![silent] };
        assert!(is_news(&unseen(1), &unseen(2)) && !is_news(&unseen(1), &unseen(1)));
    }

    #[test]
    fn one_that_answers_with_the_same_old_number_is_not_said_to_be_silent() {
        let state = State::Ready { restless: vec![], silent: vec![0] };
        let remark = remark(&state, &name, &|_| Some("85 degC: power-on value".into())).unwrap();
        let expected = "s0 does not give a new number each time (85 degC: power-on value), and cannot be named now";
        assert_eq!(remark, expected);
    }
}
