//! Overdrive speed. Codes 3Ch and 69h of its ROM commands are from memory; its times are those of the DS1996 and DS28EC20 datasheets.

use crate::decode::{Phase, Speed};
use crate::paint::{OVERDRIVE, Paint, STANDARD, Times};
use crate::timing::LineTime;
use crate::{Outcome, Topic, WaveformReport};

/// A made-up serial number of a part that has overdrive speed, the DS28EA00 (CRC computed).
const ROM: [u8; 8] = [0x42, 0x81, 0xC4, 0x5E, 0x12, 0xB7, 0x00, 0xF9];
/// -0.5 degC, FFF8h (DS18B20 datasheet (7/19), Table 1; the DS28EA00 has the same format), CRC computed.
const SCRATCHPAD: [u8; 9] = [0xF8, 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x08, 0x10, 0xF8];

/// Standard speed, then the whole line to overdrive, a reading there, and back.
fn conversation(fast: Times) -> Paint {
    let mut paint = Paint::new(STANDARD);
    paint.search(ROM, &[]);
    paint.reset().write(&[0x3C]);
    paint.times = fast;
    paint.write(&[0xBE]).read(&SCRATCHPAD);
    paint.reset().write(&[0x55]).write(&ROM).write(&[0xB4]).read_bit(true);
    paint.times = STANDARD;
    paint.wait(1_000_000).reset().write(&[0xCC, 0xB4]).read_bit(true);
    paint
}

fn of(report: &WaveformReport, time: LineTime) -> u64 {
    let of = report.times.iter().find(|of| of.speed == Speed::Overdrive && of.time == time);
    of.unwrap_or_else(|| panic!("{time:?} was not measured")).broken.sum()
}

#[test]
fn it_is_recognised_decoded_and_left_again() {
    let paint = conversation(OVERDRIVE);
    let transactions = paint.transactions();
    let speeds: Vec<Speed> = transactions.iter().map(|transaction| transaction.speed).collect();
    assert_eq!(speeds, [Speed::Standard, Speed::Standard, Speed::Overdrive, Speed::Standard]);
    let answered = transactions[1].phases.iter().find_map(|phase| match phase {
        Phase::Answered { bytes, .. } => Some(bytes.0.clone()),
        _ => None,
    });
    assert_eq!(answered.as_deref(), Some(&SCRATCHPAD[..]));
    assert!(transactions[2].reset.presence.is_some());
    let report = paint.report();
    assert_eq!(report.outcome, Outcome::Sound, "{:?}", report.findings);
    assert_eq!(report.sensors[0].last_celsius.as_deref(), Some("-0.5"));
    // 8 + 72 slots after 3Ch, then 8 + 64 + 8 + 1.
    assert_eq!(report.activity.fast_slots, 80 + 81);
}

#[test]
fn the_rom_code_of_overdrive_match_comes_at_overdrive_speed() {
    let mut paint = Paint::new(STANDARD);
    paint.reset().write(&[0x69]);
    paint.times = OVERDRIVE;
    paint.write(&ROM).write(&[0xBE]).read(&SCRATCHPAD);
    let report = paint.report();
    assert_eq!(report.sensors[0].last_celsius.as_deref(), Some("-0.5"));
    assert_eq!(report.activity.fast_slots, 64 + 8 + 72);
}

#[test]
fn a_capture_that_begins_at_overdrive_speed_is_recognised() {
    for presence_low in [8_000, 14_000, 16_000, 24_000] {
        let mut paint = Paint::new(Times { presence_low, ..OVERDRIVE });
        paint.read_scratchpad(ROM, SCRATCHPAD);
        let report = paint.report();
        assert_eq!(report.sensors[0].last_celsius.as_deref(), Some("-0.5"));
        assert_eq!((report.activity.resets, report.activity.unassigned), (1, 0));
        assert_eq!(report.outcome, Outcome::Sound, "{presence_low}: {:?}", report.findings);
    }
}

/// A write 0 and a read 0 that follows it closely look like a reset and a presence pulse at overdrive speed.
#[test]
fn a_capture_that_begins_inside_a_transaction_is_at_standard_speed() {
    let mut paint = Paint::new(Times { zero_low: 65_000, read_zero_low: 20_000, slot: 71_000, ..STANDARD });
    paint.search(ROM, &[[0x28, 0xEE, 0x87, 0x54, 0x25, 0x16, 0x02, 0x33]]).read_scratchpad(ROM, SCRATCHPAD);
    let whole = paint.clone();
    for first in (0..350).step_by(3) {
        // The line is high where the capture begins.
        let mut paint = whole.clone();
        let begin = paint.changes[2 * first + 1].0;
        paint.changes.retain(|(at, _)| *at >= begin);
        let report = paint.report();
        assert_eq!(report.activity.fast_slots, 0, "from change {first} on");
        assert!(report.findings.iter().all(|finding| finding.topic != Topic::Timing), "{first}: {:?}", report.findings);
    }
}

#[test]
fn each_limit_is_held_just_inside_and_just_outside() {
    type Case = (LineTime, u64, u64, fn(Times, u64) -> Times);
    // DS28EC20 datasheet: tRSTL 48 to 80 us, tPDH 2 to 6 us, tPDL 8 to 24 us. DS1996 datasheet: tLOW0 6 to 16 us, tLOW1 1 to
    // 2 us, tRDV 2 us and a release 4 us later. DS28EA00 datasheet: tSLOT 8 us, tREC 2 us. tRSTH as tRSTL at least (assumed).
    let cases: [Case; 14] = [
        (LineTime::ResetLow, 48_000, 47_999, |times, ns| Times { reset_low: ns, ..times }),
        (LineTime::ResetLow, 80_000, 80_001, |times, ns| Times { reset_low: ns, ..times }),
        (LineTime::PresenceDelay, 2_000, 1_999, |times, ns| Times { presence_after: ns, ..times }),
        (LineTime::PresenceDelay, 6_000, 6_001, |times, ns| Times { presence_after: ns, ..times }),
        (LineTime::PresenceLow, 8_000, 7_999, |times, ns| Times { presence_low: ns, ..times }),
        (LineTime::PresenceLow, 24_000, 24_001, |times, ns| Times { presence_low: ns, ..times }),
        (LineTime::WriteZeroLow, 6_000, 5_999, |times, ns| Times { zero_low: ns, ..times }),
        (LineTime::WriteZeroLow, 16_000, 16_001, |times, ns| Times { zero_low: ns, slot: 20_000, ..times }),
        (LineTime::WriteOneLow, 1_000, 999, |times, ns| Times { one_low: ns, ..times }),
        (LineTime::WriteOneLow, 2_000, 2_001, |times, ns| Times { one_low: ns, ..times }),
        (LineTime::ResetHigh, 48_000, 47_999, |times, ns| Times { reset_high: ns, ..times }),
        (LineTime::ReadZeroLow, 6_000, 6_001, |times, ns| Times { read_zero_low: ns, ..times }),
        (LineTime::Slot, 8_000, 7_999, |times, ns| Times { zero_low: 6_000, slot: ns, ..times }),
        (LineTime::Recovery, 2_000, 1_999, |times, ns| Times { zero_low: 10_000, slot: 10_000 + ns, ..times }),
    ];
    for (time, inside, outside, with) in cases {
        let report = conversation(with(OVERDRIVE, inside)).report();
        assert_eq!(of(&report, time), 0, "{time:?} {inside}");
        assert!(
            !report.findings.iter().any(|finding| finding.topic == Topic::Timing),
            "{time:?}: {:?}",
            report.findings
        );
        assert!(of(&conversation(with(OVERDRIVE, outside)).report(), time) > 0, "{time:?} {outside}");
    }
}
