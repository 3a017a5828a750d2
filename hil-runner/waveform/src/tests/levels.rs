//! Levels that are not known, spikes, and times that go back.

use crate::capture::Capture;
use crate::paint::{Paint, ROM, SCRATCHPAD, STANDARD, about, report};
use crate::{Outcome, Topic, excerpts};

fn readings() -> Paint {
    let mut paint = Paint::new(STANDARD);
    paint.wait(1);
    for _ in 0..3 {
        paint.read_scratchpad(ROM, SCRATCHPAD);
    }
    paint
}

/// Changes in nanoseconds, and what they are to.
fn vcd(changes: &[(u64, char)]) -> String {
    let mut text = "$timescale 1 ns $end $var wire 1 ! line $end $enddefinitions $end\n".to_owned();
    for (at, level) in changes {
        text.push_str(&format!("#{at} {level}!\n"));
    }
    text
}

fn levels(paint: &Paint) -> Vec<(u64, char)> {
    paint.changes.iter().map(|(at, is_high)| (*at, if *is_high { '1' } else { '0' })).collect()
}

#[test]
fn an_edge_that_takes_its_way_through_an_unknown_level_is_an_edge() {
    let paint = readings();
    let through: Vec<(u64, char)> =
        levels(&paint).into_iter().flat_map(|(at, level)| [(at, 'x'), (at + 200, level)]).collect();
    let report = report(&vcd(&through));
    assert_eq!((report.outcome, report.damaged), (Outcome::Sound, 0), "{:?}", report.findings);
    assert_eq!(report.sensors[0].reads, 3);
}

#[test]
fn a_level_that_is_unknown_for_longer_is_damage() {
    let paint = readings();
    let middle = paint.changes.len() / 2;
    // Inside of one low, and over many slots.
    for slots in [0, 20] {
        let mut changes = levels(&paint);
        let low = (middle..).find(|place| changes[*place].1 == '0').unwrap();
        changes[low + 2 * slots].1 = 'x';
        changes.drain(low + 1..(low + 2 * slots).max(low + 1));
        changes.insert(low + 1, (changes[low].0 + 2_000, 'x'));
        let report = report(&vcd(&changes));
        assert_eq!((report.outcome, report.damaged), (Outcome::Incomplete, 1), "{slots}: {:?}", report.findings);
        assert!(report.damages[0].why.starts_with("the level of the signal is unknown for"), "{:?}", report.damages);
        assert_eq!(report.sensors[0].reads, 2);
    }
}

#[test]
fn a_high_that_is_too_short_for_anything_is_no_edge() {
    let paint = readings();
    for (name, longer_than, within) in [("reset", 400_000, 100_000), ("slot", 60_000, 30_000)] {
        let mut changes = levels(&paint);
        let (first, until) = (0..changes.len() - 1)
            .map(|place| (place, changes[place + 1].0))
            .find(|(place, until)| changes[*place].1 == '0' && until - changes[*place].0 > longer_than)
            .unwrap();
        let at = changes[first].0 + within;
        assert!(at + 100 < until);
        changes.splice(first + 1..first + 1, [(at, '1'), (at + 100, '0')]);
        let report = report(&vcd(&changes));
        assert_eq!(report.sensors[0].reads, 3, "{name}");
        assert_eq!(
            (report.outcome, report.findings.len()),
            (Outcome::SoundWithDoubts, 1),
            "{name}: {:?}",
            report.findings
        );
        assert_eq!((about(&report, Topic::Stray)[0].at_ns, report.findings[0].count), (at, 1), "{name}");
    }
}

#[test]
fn times_that_go_back_make_no_nonsense_of_the_rest() {
    let paint = readings();
    let text = paint.vcd();
    // A last time that is cut off in the middle.
    let cut = report(&text[..text.trim_end().len() - 5]);
    assert_eq!(cut.outcome, Outcome::Incomplete);
    assert!(cut.activity.busy_ns <= cut.to_ns - cut.from_ns, "{:?} {} {}", cut.activity, cut.from_ns, cut.to_ns);
    let back = format!("{text}#5000 0!\n#6000 1!\n#700000 0!\n");
    let report = report(&back);
    assert!(report.to_ns >= paint.now, "{}", report.to_ns);
    for excerpt in excerpts(Capture::open(back.as_bytes()).unwrap(), 0, &[2_000_000, paint.now, 5_000]) {
        assert!(excerpt.changes_ns.is_sorted(), "{excerpt:?}");
        assert!(excerpt.from_ns <= excerpt.at_ns && excerpt.at_ns <= excerpt.to_ns, "{excerpt:?}");
    }
}

#[test]
fn a_line_that_is_low_from_the_first_sample_on_is_stuck() {
    let report = report(&vcd(&[(0, '0'), (2_000_000_000, '0')]));
    assert_eq!(report.outcome, Outcome::NothingSeen);
    assert_eq!(about(&report, Topic::StuckLow).len(), 1, "{:?}", report.findings);
}
