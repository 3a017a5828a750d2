//! Ones and zeros of read slots where 15 us do not tell them apart: the CRCs do.

use super::paint::{Paint, STANDARD, Times, about};
use crate::waveform::reads::READ_ZERO_NS;
use crate::waveform::timing::LineTime;
use crate::waveform::{Cause, Chosen, Outcome, Topic};

/// A valid ROM code: the first of the CRC examples, DS18B20 family (CRC computed).
const ROM: [u8; 8] = [0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8D];
/// 24.125 degC in a scratchpad as it was read off a real line.
const SCRATCHPAD: [u8; 9] = [0x82, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0xE1];

fn conversation(times: Times) -> Paint {
    let mut paint = Paint::new(times);
    paint.wait(1).search(ROM, &[]).convert(ROM).wait(800_000_000).read_scratchpad(ROM, SCRATCHPAD);
    paint
}

fn border(paint: &Paint) -> u64 {
    Chosen::of(paint.vcd().as_bytes(), 0).unwrap().read_zero_ns
}

#[test]
fn a_master_that_lets_go_too_late_is_told_so_and_the_reading_is_whole() {
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
fn a_sensor_that_lets_go_too_early_is_told_so_and_the_reading_is_whole() {
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
    assert_eq!(border(&paint), READ_ZERO_NS);
    assert_eq!(paint.report().outcome, Outcome::Sound);
}

#[test]
fn a_wrong_bit_is_no_reason_to_move_the_border() {
    let mut paint = conversation(STANDARD);
    let mut wrong = SCRATCHPAD;
    wrong[0] ^= 0x04;
    paint.read_scratchpad(ROM, wrong);
    assert_eq!(border(&paint), READ_ZERO_NS);
    assert_eq!(about(&paint.report(), Topic::Crc).len(), 1);
}

#[test]
fn nobody_is_nobody_wherever_the_border_is() {
    // All ones, each a little different: no border makes an intact scratchpad of them.
    let mut paint = Paint::new(STANDARD);
    paint.wait(1).reset().write(&[0x55]).write(&ROM).write(&[0xBE]);
    for place in 0..72 {
        paint.low(3_000 + place * 50).wait(70_000);
    }
    assert_eq!(border(&paint), READ_ZERO_NS);
    assert_eq!(about(&paint.report(), Topic::NoAnswer).len(), 1);
    assert!(paint.report().times.iter().all(|of| of.time != LineTime::ReadZeroLow));
}
