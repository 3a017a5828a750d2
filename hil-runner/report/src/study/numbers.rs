//! Numbers that were computed, with as many digits as mean something.

use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::quantity::shown;
pub(super) use slotwise_terms::units::three;

/// A temperature difference to the tenth of a thousandth, the last place of a sixteenth: `0.0625`.
pub(super) fn celsius(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Microseconds as milliseconds to the first place, without the unit.
pub(super) fn milliseconds(us: f64) -> String {
    format!("{:.1}", us / 1e3)
}

/// A figure of the datasheets in microseconds as milliseconds, exactly, without the unit: `93.75`, `750`.
pub(super) fn exact_milliseconds(us: u32) -> String {
    let text = format!("{}.{:03}", us / 1000, us % 1000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Seconds as people say them: `60 s`, `15 min`.
pub(super) fn seconds(s: f64) -> String {
    shown(Dimension::Time, (s * 1e3).round() as i64 * 1_000)
}

/// Days, and years where there are many.
pub(super) fn days(days: f64) -> String {
    /// Days of a year, on average.
    const YEAR: f64 = 365.25;
    match days {
        days if days >= 2.0 * YEAR => format!("{} years", three(days / YEAR)),
        days if days >= 2.0 => format!("{} days", three(days)),
        days => format!("{} h", three(days * 24.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_said_as_people_say_them() {
        assert_eq!((seconds(60.0), seconds(1.5), seconds(900.0)), ("1 min".into(), "1.5 s".into(), "15 min".into()));
        assert_eq!((days(0.5), days(100.0), days(1461.0)), ("12 h".into(), "100 days".into(), "4 years".into()));
        assert_eq!(
            (
                celsius(0.0625),
                celsius(0.144_338),
                milliseconds(93_749.0),
                exact_milliseconds(93_750),
                exact_milliseconds(750_000)
            ),
            ("0.0625".into(), "0.1443".into(), "93.7".into(), "93.75".into(), "750".into())
        );
    }
}
