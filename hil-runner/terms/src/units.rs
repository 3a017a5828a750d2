//! Numbers as people write them: exact decimals with their unit.

/// Thousandths of a degree Celsius, rounded half away from zero, as scenarios give them.
#[must_use]
pub const fn millicelsius(sixteenths: i32) -> i32 {
    let doubled = sixteenths * 125;
    (doubled + doubled.signum()) / 2
}

/// `25.0625 degC`, exactly.
#[must_use]
pub fn celsius_of_sixteenths(sixteenths: i32) -> String {
    format!("{} degC", decimal(i64::from(sixteenths) * 625, 4))
}

/// `25.0625`: sixteenths of a degree, exactly.
#[must_use]
pub fn decimal_sixteenths(sixteenths: i32) -> String {
    decimal(i64::from(sixteenths) * 625, 4)
}

/// `25.063 degC`.
#[must_use]
pub fn celsius(millicelsius: i32) -> String {
    format!("{} degC", decimal(i64::from(millicelsius), 3))
}

/// Two-thousandths of a degree, exactly: `0.0625 degC`.
#[must_use]
pub fn celsius_of_halves(half_millicelsius: i64) -> String {
    format!("{} degC", decimal(half_millicelsius * 5, 4))
}

/// Hundreds of pascals: `1002 hPa`, `995.3 hPa`.
#[must_use]
pub fn hectopascals(pascals: u32) -> String {
    format!("{} hPa", decimal(i64::from(pascals), 2))
}

/// A temperature difference to the thousandth of a degree, with its sign: `-0.080`, `+0.125`, `0.000`.
#[must_use]
pub fn signed_thousandths(millicelsius: i32) -> String {
    let sign = match millicelsius.signum() {
        -1 => "-",
        0 => "",
        _ => "+",
    };
    format!("{sign}{}", plain_thousandths(millicelsius.unsigned_abs()))
}

fn plain_thousandths(millicelsius: u32) -> String {
    format!("{}.{:03}", millicelsius / 1000, millicelsius % 1000)
}

/// A reading and its correction, neither without the other: `24.045 degC corrected by -0.080 from 24.125`.
#[must_use]
pub fn corrected(sixteenths: i32, correction_millicelsius: i32) -> String {
    let corrected = millicelsius(sixteenths) + correction_millicelsius;
    let sign = if corrected < 0 { "-" } else { "" };
    let (number, by) = (plain_thousandths(corrected.unsigned_abs()), signed_thousandths(correction_millicelsius));
    format!("{sign}{number} degC corrected by {by} from {}", decimal(i64::from(sixteenths) * 625, 4))
}

/// A difference to the nearest hundredth of a degree, finer than any step of these sensors: `0.06`, `-1.50`, `0.00`.
#[must_use]
pub fn hundredths(millicelsius: i32) -> String {
    let rounded = (millicelsius.unsigned_abs() + 5) / 10;
    let sign = if millicelsius < 0 && rounded > 0 { "-" } else { "" };
    format!("{sign}{}.{:02}", rounded / 100, rounded % 100)
}

/// Nanoseconds as microseconds to the first place: `31.2 us`.
#[must_use]
pub fn microseconds(ns: u32) -> String {
    let tenths = (u64::from(ns) + 50) / 100;
    format!("{}.{} us", tenths / 10, tenths % 10)
}

/// Microseconds as milliseconds: `93.75 ms`.
#[must_use]
pub fn milliseconds(us: u32) -> String {
    format!("{} ms", decimal(i64::from(us), 3))
}

/// Microseconds as milliseconds to the first place: `93.8 ms`, for what is not known more closely.
#[must_use]
pub fn about_milliseconds(us: u32) -> String {
    let tenths = (u64::from(us) + 50) / 100;
    format!("{}.{} ms", tenths / 10, tenths % 10)
}

/// A time of the rig: `1.234 s`, rounded to the millisecond; `12 min 3.5 s`, `3 h 0 min`, `2 d 1 h` for longer ones.
#[must_use]
pub fn rig_time(ns: u64) -> String {
    let ms = (ns + 500_000) / 1_000_000;
    let (minutes, hours, days) = (ms / 60_000, ms / 3_600_000, ms / 86_400_000);
    match (days, hours, minutes) {
        (0, 0, 0) => format!("{}.{:03} s", ms / 1000, ms % 1000),
        (0, 0, _) => format!("{minutes} min {}.{} s", ms % 60_000 / 1000, ms % 1000 / 100),
        (0, _, _) => format!("{hours} h {} min", minutes % 60),
        _ => format!("{days} d {} h", hours % 24),
    }
}

/// A share in percent: `0.1 %`, `12.5 %`.
#[must_use]
pub fn percent(ppm: u64) -> String {
    format!("{} %", decimal(i64::try_from(ppm).unwrap_or(i64::MAX), 4))
}

/// A share in percent to two places, `6.67 %`. What is not all or nothing does not look so.
#[must_use]
pub fn about_percent(part: u32, whole: u32) -> String {
    let (part, whole) = (u64::from(part), u64::from(whole.max(1)));
    match (part * 10_000 + whole / 2) / whole {
        0 if part > 0 => "under 0.01 %".into(),
        10_000 if part < whole => "over 99.99 %".into(),
        hundredths => format!("{} %", decimal(i64::try_from(hundredths).unwrap_or(i64::MAX), 2)),
    }
}

/// To three digits, and never less than to the whole: `1.31`, `20.7`, `966`, `1125`.
#[must_use]
pub fn three(value: f64) -> String {
    if value == 0.0 {
        return "0".into();
    }
    // A number that is not zero has less than 400 places.
    let places = (2.0 - value.abs().log10().floor()).max(0.0) as usize;
    let text = format!("{value:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// A resistance to three digits: `10 ohm`, `2.2 kohm`.
#[must_use]
pub fn ohms(ohm: f64) -> String {
    if ohm < 1e3 { format!("{} ohm", three(ohm)) } else { format!("{} kohm", three(ohm / 1e3)) }
}

/// Something counted: `1 sensor`, `8 sensors`.
#[must_use]
pub fn count(number: usize, thing: &str) -> String {
    format!("{number} {thing}{}", if number == 1 { "" } else { "s" })
}

/// The same of a number that may be larger.
#[must_use]
pub fn counted(number: u64, thing: &str) -> String {
    count(usize::try_from(number).unwrap_or(usize::MAX), thing)
}

/// `13.042 us`, exactly; in milliseconds or seconds, rounded, where no limit is near.
#[must_use]
pub fn exact_time(ns: i64) -> String {
    let sign = if ns < 0 { "-" } else { "" };
    let ns = ns.unsigned_abs();
    let thousandths = |value: u64| {
        let text = format!("{}.{:03}", value / 1_000, value % 1_000);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    match ns {
        0..10_000_000 => format!("{sign}{} us", thousandths(ns)),
        10_000_000..10_000_000_000 => format!("{sign}{} ms", thousandths(ns / 1_000)),
        _ => format!("{sign}{} s", thousandths(ns / 1_000_000)),
    }
}

/// A moment to the nanosecond, to be found in a waveform: `1.234567890 s`.
#[must_use]
pub fn moment(ns: u64) -> String {
    format!("{}.{:09} s", ns / 1_000_000_000, ns % 1_000_000_000)
}

/// An integer with so many places behind the point, without needless zeros.
fn decimal(value: i64, places: usize) -> String {
    let sign = if value < 0 { "-" } else { "" };
    let digits = format!("{:0width$}", value.unsigned_abs(), width = places + 1);
    let (whole, fraction) = digits.split_at(digits.len() - places);
    let fraction = fraction.trim_end_matches('0');
    if fraction.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{fraction}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperatures_are_exact_and_keep_their_sign() {
        assert_eq!(celsius_of_sixteenths(401), "25.0625 degC");
        assert_eq!(celsius_of_sixteenths(-8), "-0.5 degC");
        assert_eq!(celsius_of_sixteenths(-1), "-0.0625 degC");
        assert_eq!(celsius_of_sixteenths(1360), "85 degC");
        assert_eq!(celsius(12_500), "12.5 degC");
        assert_eq!(hundredths(63), "0.06");
        assert_eq!(hundredths(-62), "-0.06");
        assert_eq!(hundredths(-1_500), "-1.50");
        assert_eq!(hundredths(-4), "0.00");
        assert_eq!(hundredths(995), "1.00");
    }

    #[test]
    fn a_corrected_reading_shows_what_was_read() {
        assert_eq!(corrected(386, -80), "24.045 degC corrected by -0.080 from 24.125");
        assert_eq!(corrected(1, -80), "-0.017 degC corrected by -0.080 from 0.0625");
        assert_eq!(corrected(-16, 1_250), "0.250 degC corrected by +1.250 from -1");
        assert_eq!(corrected(0, 0), "0.000 degC corrected by 0.000 from 0");
    }

    #[test]
    fn pressures_are_in_hectopascals() {
        assert_eq!([101_325, 100_200, 7].map(hectopascals), ["1013.25 hPa", "1002 hPa", "0.07 hPa"]);
    }

    #[test]
    fn sixteenths_are_rounded_half_away_from_zero() {
        assert_eq!(millicelsius(1), 63);
        assert_eq!(millicelsius(-1), -63);
        assert_eq!(millicelsius(401), 25_063);
        assert_eq!(millicelsius(-401), -25_063);
        assert_eq!(millicelsius(8), 500);
    }

    #[test]
    fn times_take_the_unit_that_suits_them() {
        assert_eq!(milliseconds(93_750), "93.75 ms");
        assert_eq!(about_milliseconds(93_750), "93.8 ms");
        assert_eq!(about_milliseconds(600_049), "600.0 ms");
        assert_eq!(rig_time(1_234_499_999), "1.234 s");
        assert_eq!(rig_time(59_999_999_999), "1 min 0.0 s");
        assert_eq!(rig_time(723_500_000_000), "12 min 3.5 s");
        assert_eq!(rig_time(10_800_000_000_000), "3 h 0 min");
        assert_eq!(rig_time(176_400_000_000_000), "2 d 1 h");
    }

    #[test]
    fn three_digits_are_enough() {
        for (value, text) in [
            (0.0, "0"),
            (1.3111, "1.31"),
            (20.7039, "20.7"),
            (966.4, "966"),
            (12_345.0, "12345"),
            (0.000_758_9, "0.000759"),
            (600.0, "600"),
            (9.999, "10"),
            (-2.0, "-2"),
        ] {
            assert_eq!(three(value), text);
        }
    }

    #[test]
    fn resistances_take_the_unit_that_suits_them() {
        assert_eq!([9.95, 725.0, 4_700.0, 47_000.0].map(ohms), ["9.95 ohm", "725 ohm", "4.7 kohm", "47 kohm"]);
    }

    #[test]
    fn shares_and_counts_read_as_people_say_them() {
        assert_eq!(percent(1_000), "0.1 %");
        assert_eq!(percent(125_000), "12.5 %");
        assert_eq!(about_percent(1, 15), "6.67 %");
        assert_eq!(about_percent(2, 3), "66.67 %");
        assert_eq!(about_percent(1, 20), "5 %");
        assert_eq!(about_percent(0, 7), "0 %");
        assert_eq!(about_percent(7, 7), "100 %");
        assert_eq!(about_percent(1, 100_000), "under 0.01 %");
        assert_eq!(about_percent(99_999, 100_000), "over 99.99 %");
        assert_eq!(count(1, "sensor"), "1 sensor");
        assert_eq!(count(8, "sensor"), "8 sensors");
    }
}
