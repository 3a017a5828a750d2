//! Messages of a session: what was observed, and what to do about it.

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

/// Which sensor moved, by how much, and the confidence.
pub(super) fn found(name: &str, found: &MovedSensor) -> String {
    let cooled = if found.celsius < 0.0 { " (cooling counts like warming)" } else { "" };
    format!(
        "{name} moves: {}{cooled} within {:.1} s, no other sensor does; confidence {} (that this is not noise, if noise is \
         normal and as in the baseline)",
        moved(found.celsius),
        seconds(found.after_ns),
        confidence_text(found.chance)
    )
}

pub(super) fn seconds(ns: u64) -> f64 {
    Duration::from_nanos(ns).as_secs_f64()
}

/// `1m 46s`, without fractions of a second.
pub(super) fn whole_seconds(time: Duration) -> humantime::FormattedDuration {
    humantime::format_duration(Duration::from_secs(time.as_secs_f64().round() as u64))
}

/// Names of several sensors, shortened to a count after the fourth.
pub(super) fn names(sensors: &[usize], name: &dyn Fn(usize) -> String) -> String {
    const MOST: usize = 4;
    let shown: Vec<String> = sensors.iter().take(MOST).map(|sensor| name(*sensor)).collect();
    let shown = shown.join(", ");
    match sensors.len().saturating_sub(MOST) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// Whether `now` needs a new message after the one for `reported`: the state differs, or a further sensor is involved.
pub(super) fn is_news(reported: &State, now: &State) -> bool {
    let sensors = |state: &State| match state {
        State::Several(moving) => moving.clone(),
        State::Unseen { moving, silent } => [&[*moving], silent.as_slice()].concat(),
        _ => Vec::new(),
    };
    let known = sensors(reported);
    std::mem::discriminant(reported) != std::mem::discriminant(now)
        || sensors(now).iter().any(|sensor| !known.contains(sensor))
}

/// The message for a state in which no sensor can be identified, or not every one.
pub(super) fn remark(
    state: &State,
    name: &dyn Fn(usize) -> String,
    why_silent: &dyn Fn(usize) -> Option<String>,
) -> Option<String> {
    Some(match state {
        State::Several(moving) => format!(
            "{} move at once: no sensor is identified; let go of all but one, and keep hands and breath away from the others",
            names(moving, name)
        ),
        State::Everything => {
            "all or most sensors move alike, which a hand does not cause (a draught, the sun, a door): no \
                              sensor is identified until they rest"
                .into()
        }
        State::Unseen { moving, silent } => format!(
            "{} moves, but {} has stopped giving readings and may move as well: no sensor is identified; check its wires",
            name(*moving),
            names(silent, name)
        ),
        State::Ready { restless, silent } if !restless.is_empty() || !silent.is_empty() => {
            let restless = (!restless.is_empty()).then(|| format!("{} does not settle", names(restless, name)));
            let silent = silent.iter().map(|sensor| {
                let why = why_silent(*sensor).map_or(String::new(), |why| format!(" ({why})"));
                format!("{} does not give a new reading each round{why}", name(*sensor))
            });
            let why: Vec<String> = restless.into_iter().chain(silent).collect();
            format!("{}, and cannot be identified now", why.join("; "))
        }
        State::Settling(_) | State::Ready { .. } | State::Still | State::Moving(_) | State::Found(_) => return None,
    })
}

/// Why no sensor was identified within the time limit.
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
            "{} has moved by {} degC within {}, but {} to be identified: hold it until it is identified, or allow more time \
             (--limit)",
            name(sensor),
            signed(celsius),
            whole_seconds(limit),
            if was_sure { "not for long enough" } else { "not for long enough or not with enough confidence" }
        ),
        (None, None) => format!(
            "no sensor has moved by {least_celsius} degC within {}: hold the end of the lead itself, allow more time for a \
             thick tube (--limit), or cool it where the room is as warm as a hand",
            whole_seconds(limit)
        ),
    }
}

/// The status line: time left, and the three sensors that have moved most.
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

/// The message while all sensors settle.
pub(super) fn hands_off(sensors: usize) -> String {
    format!("hands off: waiting for {} to settle", count(sensors, "sensor"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(sensor: usize) -> String {
        format!("s{sensor}")
    }

    #[test]
    fn times_are_rounded_to_whole_seconds() {
        let left = Duration::from_nanos(105_999_989_696);
        let missed = missed((&State::Still, None), 1.0, left, &name, &|_| None);
        assert!(missed.starts_with("no sensor has moved by 1 degC within 1m 46s: "), "{missed}");
    }

    #[test]
    fn a_further_sensor_needs_a_message_and_the_same_sensors_do_not() {
        let several = |moving: &[usize]| State::Several(moving.to_vec());
        assert!(is_news(&State::Still, &several(&[0, 1])));
        assert!(!is_news(&several(&[0, 1]), &several(&[1, 0])));
        assert!(is_news(&several(&[0, 1]), &several(&[2, 3])));
        assert!(!is_news(&several(&[0, 1, 2]), &several(&[0, 1])));
        let unseen = |silent| State::Unseen { moving: 0, silent: vec![silent] };
        assert!(is_news(&unseen(1), &unseen(2)) && !is_news(&unseen(1), &unseen(1)));
    }

    #[test]
    fn a_sensor_that_repeats_an_old_reading_is_not_reported_as_silent() {
        let state = State::Ready { restless: vec![], silent: vec![0] };
        let remark = remark(&state, &name, &|_| Some("85 degC: power-on value".into())).unwrap();
        let expected =
            "s0 does not give a new reading each round (85 degC: power-on value), and cannot be identified now";
        assert_eq!(remark, expected);
    }
}
