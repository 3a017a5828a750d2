//! The times of the master's edges: the smallest margin in one sentence, and all of them in a table.

use super::look::Ink;
use super::{Grid, MARGIN, TextLook, nothing, table};
use slotwise_limits::edges::EdgeRecord;
use slotwise_limits::edges::{Nearest, ParameterReport, Violation};
use slotwise_limits::{Basis, Limit, Side};
use slotwise_terms::units::{counted, exact_time as time, moment};

/// Violations that have a line of their own.
const VIOLATIONS_SHOWN: usize = 5;
/// A time has room in one line from this width on.
const WIDE: usize = 118;

/// A sentence, the violations, a table of the times, and what was not judged.
#[must_use]
pub fn tell(look: &TextLook, record: &EdgeRecord) -> Vec<String> {
    let mut lines = vec![look.wrap("edges: ", &summary(record))];
    let (first, rest) = record.violations.split_at(record.violations.len().min(VIOLATIONS_SHOWN));
    lines.extend(first.iter().map(|violation| Ink::Bad.on(look.wrap(MARGIN, &broken(violation)))));
    let not_shown = record.violated - first.len() as u64;
    if not_shown > 0 {
        let kept = if rest.is_empty() { String::new() } else { format!(", {} of them in the record", rest.len()) };
        lines.push(look.wrap(MARGIN, &format!("and {}{kept}", counted(not_shown, "more violation"))));
    }
    let rows: Vec<Vec<String>> = record.parameters.iter().filter_map(row).collect();
    if !rows.is_empty() {
        lines.extend(table(look, grid(look, rows)));
    }
    let open: Vec<String> = record
        .unclear
        .counts()
        .into_iter()
        .filter(|(number, _)| *number > 0)
        .map(|(number, thing)| counted_in_front(number, thing))
        .collect();
    if !open.is_empty() {
        lines.push(Ink::Faint.on(look.wrap(MARGIN, &format!("not judged: {}", open.join(", ")))));
    }
    lines
}

/// The times in one line each; where there is little room, two cells share one, one above the other.
fn grid(look: &TextLook, rows: Vec<Vec<String>>) -> Grid<'static> {
    if look.width.is_none_or(|width| width >= WIDE) {
        let heading = vec!["time", "of what", "limits", "by", "count", "from", "to", "margin", "at"];
        return Grid { heading, right: &["count", "from", "to", "margin", "at"], rows };
    }
    let stacked = |row: Vec<String>| match row.as_slice() {
        [time, of_what, limits, by, count, from, to, margin, at] => vec![
            time.clone(),
            of_what.clone(),
            format!("{limits}\n{by}"),
            count.clone(),
            format!("{from}\n{to}"),
            format!("{margin}\n{at}"),
        ],
        _ => row,
    };
    Grid {
        heading: vec!["time", "of what", "limits\nby", "count", "from\nto", "margin\nat"],
        right: &["count", "from\nto", "margin\nat"],
        rows: rows.into_iter().map(stacked).collect(),
    }
}

fn summary(record: &EdgeRecord) -> String {
    let pulses = &record.pulses;
    let seen = format!(
        "{}, {}, {}",
        counted(pulses.resets, "reset"),
        counted(pulses.zeros.saturating_add(pulses.ones), "slot"),
        counted(record.looks.samples, "sample"),
    );
    let Some((of, nearest)) = record.nearest() else {
        return format!("no time was measured; {seen}");
    };
    let Nearest { margin_ns, value_ns, side, at_ns } = nearest;
    let bound = match side {
        Side::Least => &of.window.least,
        Side::Most => &of.window.most,
    };
    let asked =
        bound.as_ref().map_or(String::new(), |bound| format!(" where {} is asked ({})", limit(side, bound), by(bound)));
    let what = format!("{} {}{asked}", of.parameter.symbol(), time(value_ns));
    let margin = format!("smallest margin {}, {what}, at {}", time(margin_ns), moment(at_ns));
    match record.violated {
        0 => format!("{margin}; {seen}"),
        number => format!("{} outside the limits; {margin}; {seen}", counted(number, "time")),
    }
}

fn broken(violation: &Violation) -> String {
    let Violation { at_ns, parameter, value_ns, side, limit_ns } = violation;
    let asked = match side {
        Side::Least => "least",
        Side::Most => "most",
    };
    format!(
        "{}, {}: {} at {}, the {asked} is {}",
        parameter.symbol(),
        parameter.what(),
        time(*value_ns),
        moment(*at_ns),
        time(*limit_ns)
    )
}

pub(super) fn row(of: &ParameterReport) -> Option<Vec<String>> {
    let seen = of.seen?;
    let window = &of.window;
    let limits: Vec<String> = [(&window.least, Side::Least), (&window.most, Side::Most)]
        .into_iter()
        .filter_map(|(bound, side)| Some(limit(side, bound.as_ref()?)))
        .collect();
    let mut parts: Vec<&str> = [&window.least, &window.most].into_iter().flatten().map(by).collect();
    parts.dedup();
    Some(vec![
        of.parameter.symbol().into(),
        of.parameter.what().into(),
        if limits.is_empty() { nothing() } else { limits.join(", ") },
        if parts.is_empty() { nothing() } else { parts.join(", ") },
        seen.count.to_string(),
        time(seen.least_ns),
        time(seen.most_ns),
        seen.nearest.map_or_else(nothing, |nearest| time(nearest.margin_ns)),
        seen.nearest.map_or_else(nothing, |nearest| moment(nearest.at_ns)),
    ])
}

/// `>= 480 us`.
fn limit(side: Side, bound: &Limit) -> String {
    format!("{} {}", bound.reach.sign(side), time(bound.ns))
}

/// Whose limit it is.
fn by(bound: &Limit) -> &'static str {
    match bound.basis {
        Basis::OwnDatasheet => bound.part.part(),
        Basis::AsDs18b20 => "as DS18B20",
        Basis::Order => "order",
    }
}

/// `3 x short slot without a look`.
fn counted_in_front(number: u64, thing: &str) -> String {
    format!("{number} x {thing}")
}

#[cfg(test)]
mod tests {
    use slotwise::thermometer::Family;

    use super::*;
    use crate::Characters;
    use slotwise_limits::Limits;
    use slotwise_limits::edges::EdgeClock;
    use slotwise_limits::edges::{Edge, EdgeJudge};

    fn record(families: &[Family], events: &[(u64, Edge)]) -> EdgeRecord {
        let mut judge = EdgeJudge::new(Limits::for_families(families));
        for (at_ns, edge) in events {
            judge.feed(*at_ns, *edge);
        }
        EdgeRecord::new(EdgeClock::EmulatedChip, judge.finish())
    }

    const GOOD: [(u64, Edge); 8] = [
        (2_000_000_000, Edge::DriveLow),
        (2_000_490_000, Edge::Release),
        (2_000_560_000, Edge::Look),
        (2_001_000_000, Edge::DriveLow),
        (2_001_003_000, Edge::Release),
        (2_001_013_042, Edge::Look),
        (2_001_064_000, Edge::DriveLow),
        (2_001_125_000, Edge::Release),
    ];

    #[test]
    fn the_smallest_margin_is_shown_in_one_line_and_each_time_in_a_row() {
        let lines = tell(&TextLook::PLAIN, &record(&[Family::Ds18b20], &GOOD));
        assert_eq!(
            lines[0],
            "edges: smallest margin 1 us, tLOW0 61 us where >= 60 us is asked (DS18B20), at 2.001064000 s; 1 reset, \
             2 slots, 1 sample"
        );
        let row = |name: &str| {
            let line = lines.iter().find(|line| line.trim_start().starts_with(name)).unwrap();
            line.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        assert_eq!(
            row("tRDV"),
            "tRDV falling edge to look < 15 us DS18B20 1 13.042 us 13.042 us 1.958 us 2.001000000 s"
        );
        assert_eq!(row("tRSTL"), "tRSTL reset low >= 480 us, <= 960 us DS18B20 1 490 us 490 us 10 us 2.000000000 s");
        // Sentence, heading, rule, and ten times: nothing was seen of the strong pull-up.
        assert_eq!(lines.len(), 1 + 2 + 10);
        assert!(!lines.iter().any(|line| line.contains("not judged")));
    }

    #[test]
    fn each_violation_is_shown_up_to_a_few() {
        // Seven resets of 400 us.
        let events: Vec<(u64, Edge)> = (0..7)
            .flat_map(|number| [(number * 1_000_000, Edge::DriveLow), (number * 1_000_000 + 400_000, Edge::Release)])
            .collect();
        let lines = tell(&TextLook::PLAIN, &record(&[Family::Ds18b20], &events));
        assert!(
            lines[0].starts_with("edges: 7 times outside the limits; smallest margin -80 us, tRSTL 400 us"),
            "{lines:?}"
        );
        let shown = lines.iter().filter(|line| line.contains("tRSTL, reset low: 400 us at")).count();
        assert_eq!(shown, 5);
        assert!(lines.iter().any(|line| line.trim() == "and 2 more violations, 2 of them in the record"), "{lines:?}");
        assert!(lines.last().unwrap().contains("not judged: 1 x unfinished pulse or slot, 6 x reset without a look"));
    }

    #[test]
    fn where_nothing_was_measured_there_is_no_table() {
        let lines = tell(&TextLook::PLAIN, &record(&[], &[]));
        assert_eq!(lines, ["edges: no time was measured; 0 resets, 0 slots, 0 samples"]);
    }

    #[test]
    fn a_limit_taken_over_from_another_part_says_so() {
        let lines = tell(&TextLook::PLAIN, &record(&[Family::Ds18s20], &GOOD));
        assert!(lines[0].contains(">= 60 us is asked (as DS18B20)"), "{lines:?}");
        let lines = tell(&TextLook::PLAIN, &record(&[Family::Ds28ea00, Family::Ds18b20], &GOOD));
        assert!(lines[0].contains("margin -1 us, tSLOT+tREC 64 us where >= 65 us is asked (DS28EA00)"), "{lines:?}");
    }

    #[test]
    fn no_line_is_wider_than_the_terminal() {
        let record = record(&[Family::Ds18b20], &GOOD);
        for width in [80, 100, 120, 160] {
            let look = TextLook { width: Some(width), characters: Characters::Unicode };
            let lines = tell(&look, &record).join("\n");
            for line in lines.lines() {
                assert!(textwrap::core::display_width(line) <= width, "{width}: {line}");
            }
            // Numbers are not broken in two.
            assert!(lines.contains("13.042 us") && lines.contains("2.001000000 s"), "{width}: {lines}");
        }
    }

    #[test]
    fn times_take_the_unit_that_suits_them() {
        let lines = [0, 1, 13_042, -400, 9_999_999, 750_000_000, 12_345_678_901].map(time);
        assert_eq!(lines, ["0 us", "0.001 us", "13.042 us", "-0.4 us", "9999.999 us", "750 ms", "12.345 s"]);
        assert_eq!(moment(1_000_000_001), "1.000000001 s");
    }
}
