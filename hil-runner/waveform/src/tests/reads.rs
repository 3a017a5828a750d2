//! Ones and zeros of read slots where 15 us do not separate them: the CRCs do.

use crate::decode::Borders;
use crate::paint::{OVERDRIVE, Paint, ROM, SCRATCHPAD, STANDARD, Times, about};
use crate::timing::LineTime;
use crate::{Cause, Chosen, Outcome, Topic};

fn conversation(times: Times) -> Paint {
    let mut paint = Paint::new(times);
    paint.wait(1).search(ROM, &[]).convert(ROM).wait(800_000_000).read_scratchpad(ROM, SCRATCHPAD);
    paint
}

fn border(paint: &Paint) -> Borders {
    Chosen::of(paint.vcd().as_bytes(), 0).unwrap().borders
}

#[test]
fn a_master_that_releases_too_late_is_reported_and_the_reading_is_whole() {
    // The sensor holds its zeros from 30 us on: what is shorter is a 1, from a master that pulls for too long.
    for read_low in [15_000, 18_000, 24_000] {
        let paint = conversation(Times { read_low, read_zero_low: 30_000, ..STANDARD });
        let report = paint.report();
        assert_eq!((report.sensors.len(), report.sensors[0].reads, report.sensors[0].bad_reads), (1, 1, 0));
        let timing = about(&report, Topic::Timing);
        assert_eq!((timing.len(), timing[0].cause), (1, Cause::Master), "{:?}", report.findings);
        assert!(timing[0].text.starts_with("read 1"), "{timing:?}");
        assert_eq!(report.findings.len(), 1, "nothing else is wrong: {:?}", report.findings);
    }
}

#[test]
fn a_sensor_that_releases_too_early_is_reported_and_the_reading_is_whole() {
    for read_zero_low in [8_000, 12_000, 14_999] {
        let report = conversation(Times { read_low: 3_000, read_zero_low, ..STANDARD }).report();
        assert_eq!((report.sensors.len(), report.sensors[0].reads, report.sensors[0].bad_reads), (1, 1, 0));
        let timing = about(&report, Topic::Timing);
        assert_eq!((timing.len(), timing[0].cause), (1, Cause::Sensor), "{:?}", report.findings);
        assert!(timing[0].text.starts_with("read 0"), "{timing:?}");
        assert_eq!(report.findings.len(), 1, "nothing else is wrong: {:?}", report.findings);
    }
}

#[test]
fn as_long_as_all_is_intact_the_border_is_that_of_the_datasheet() {
    // The widest gap lies elsewhere.
    let paint = conversation(Times { read_low: 14_000, read_zero_low: 16_000, ..STANDARD });
    assert_eq!(border(&paint), Borders::default());
    assert_eq!(paint.report().outcome, Outcome::Sound);
}

#[test]
fn a_wrong_bit_is_no_reason_to_move_the_border() {
    let mut paint = conversation(STANDARD);
    let mut wrong = SCRATCHPAD;
    wrong[0] ^= 0x04;
    paint.read_scratchpad(ROM, wrong);
    assert_eq!(border(&paint), Borders::default());
    assert_eq!(about(&paint.report(), Topic::Crc).len(), 1);
}

#[test]
fn silence_is_no_answer_wherever_the_border_is() {
    // All ones, each a little different: no border makes an intact scratchpad of them.
    let mut paint = Paint::new(STANDARD);
    paint.wait(1).reset().write(&[0x55]).write(&ROM).write(&[0xBE]);
    for place in 0..72 {
        paint.low(3_000 + place * 50).wait(70_000);
    }
    assert_eq!(border(&paint), Borders::default());
    assert_eq!(about(&paint.report(), Topic::NoAnswer).len(), 1);
    assert!(paint.report().times.iter().all(|of| of.time != LineTime::ReadZeroLow));
}

/// Ones of up to 14.9 us and zeros from 16 us on, both of many lengths, sampled every microsecond: the only gap is one step wide.
#[test]
fn a_border_of_one_step_is_found() {
    let mut paint = Paint::new(STANDARD);
    paint.wait(1);
    let mut number = 0_u64;
    for _ in 0..4 {
        paint.reset().write(&[0x55]).write(&ROM).write(&[0xBE]);
        for place in 0..72 {
            let is_one = SCRATCHPAD[place / 8] >> (place % 8) & 1 == 1;
            number += 1;
            let low = if is_one { 14_000 + number * 7 % 900 } else { 16_050 + number * 613 % 28_000 };
            paint.low(low).wait(75_000 - low);
        }
    }
    for (at, _) in &mut paint.changes {
        *at = *at / 1_000 * 1_000;
    }
    paint.now = paint.now / 1_000 * 1_000;
    let report = paint.report();
    assert_eq!(
        (report.step_ns, report.sensors[0].reads, report.sensors[0].bad_reads),
        (1_000, 4, 0),
        "{:?}",
        report.findings
    );
}

#[test]
fn at_overdrive_speed_it_is_the_same() {
    for (read_low, read_zero_low, cause) in [(2_001, 4_000, Cause::Master), (1_200, 1_900, Cause::Sensor)] {
        let mut paint = Paint::new(Times { read_low, read_zero_low, ..OVERDRIVE });
        paint.read_scratchpad(ROM, SCRATCHPAD).read_scratchpad(ROM, SCRATCHPAD);
        let report = paint.report();
        assert_eq!((report.sensors[0].reads, report.sensors[0].bad_reads), (2, 0), "{:?}", report.findings);
        let timing = about(&report, Topic::Timing);
        assert_eq!((report.findings.len(), timing[0].cause), (1, cause), "{:?}", report.findings);
    }
    // A 0 of exactly tRDV is legal.
    let mut paint = Paint::new(Times { read_low: 1_200, read_zero_low: 2_000, ..OVERDRIVE });
    paint.read_scratchpad(ROM, SCRATCHPAD);
    assert_eq!(paint.report().outcome, Outcome::Sound, "{:?}", paint.report().findings);
}
