//! Findings that come again and again: how often, when first and last, and that none of weight is lost among them.

use super::conversations::{AT_12_BITS, ROM, paint, rom};
use crate::paint::{Paint, STANDARD, about};
use crate::{Outcome, Topic, Weight};

/// As many kinds as are kept.
const MOST: u16 = 1_000;

#[test]
fn a_fault_is_reported_however_many_hints_precede_it() {
    let mut paint = paint();
    // A read that ends before it begins.
    let hint = |paint: &mut Paint, number: u16| {
        paint.reset().write(&[0x55]).write(&rom(0x28, number)).write(&[0xBE]);
    };
    for number in 0..MOST {
        hint(&mut paint, number);
    }
    let full = paint.clone().reset().report();
    assert_eq!((full.outcome, full.findings.len(), full.findings_not_kept), (Outcome::SoundWithDoubts, MOST.into(), 0));
    // One that is there is counted there; one that is not finds no room, twice.
    for number in [0, MOST, MOST] {
        hint(&mut paint, number);
    }
    let mut bad = AT_12_BITS;
    bad[8] ^= 1;
    for _ in 0..4 {
        paint.read_scratchpad(ROM, bad);
    }
    let report = paint.report();
    assert_eq!((report.outcome, report.findings.len()), (Outcome::Faulty, MOST.into()));
    let first = &report.findings[0];
    assert_eq!((first.weight, first.topic, first.count), (Weight::Fault, Topic::Crc, 4));
    // The two without room, and the one that had to make room.
    assert_eq!(report.findings_not_kept, 3);
}

#[test]
fn resets_without_a_presence_pulse_are_reported_from_the_first_to_the_last() {
    let mut paint = paint();
    paint.reset().wait(1_000_000);
    let first = paint.now;
    paint.lonely_reset().wait(1_000_000).lonely_reset().wait(1_000_000);
    let last = paint.now;
    paint.lonely_reset().reset();
    let report = paint.report();
    let found = about(&report, Topic::NoPresence);
    assert_eq!((found.len(), found[0].count), (1, 3));
    assert_eq!((found[0].at_ns, found[0].last_ns), (first, last));
    assert_eq!((report.activity.resets, report.activity.unanswered), (5, 3));
}

/// A time that breaks its limit is reported at its worst, and that is no time span.
#[test]
fn a_time_is_reported_where_it_is_worst() {
    let mut paint = paint();
    paint.reset();
    let mut worst = 0;
    for low in [55_000, 50_000, 55_000] {
        paint.times.zero_low = low;
        worst = if low == 50_000 { paint.now } else { worst };
        paint.write_bit(false);
    }
    paint.times = STANDARD;
    paint.reset();
    let report = paint.report();
    let found = about(&report, Topic::Timing);
    assert_eq!((found.len(), found[0].count), (1, 3), "{found:?}");
    assert_eq!((found[0].at_ns, found[0].last_ns), (worst, worst));
}
