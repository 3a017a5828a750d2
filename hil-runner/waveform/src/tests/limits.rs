//! Each time just inside and just outside each of its limits. The limits are typed in here from the tables.

use crate::paint::{Paint, ROM, SCRATCHPAD, STANDARD, Times, about};
use crate::timing::{LineDriver, LineTime};
use crate::{Cause, Outcome, Topic};

/// Zeros and ones of both parties, and two resets.
fn conversation(times: Times) -> Paint {
    let mut paint = Paint::new(times);
    // An odd time, so that the capture is seen to have steps of a nanosecond.
    paint.wait(1).search(ROM, &[]).convert(ROM).wait(800_000_000).read_scratchpad(ROM, SCRATCHPAD);
    paint
}

/// A limit: which time, the last value that is permitted and the first that is not, and how to make it so.
type Case = (LineTime, u64, u64, fn(Times, u64) -> Times);

/// DS18B20 datasheet (7/19), AC table; Read Time Slots (the line is up before 15 us); Figure 17 (TINT above 1 us); the hold of a
/// read 0 is tRDV, 15 us, to 45 us past it (DS2417 datasheet, notes to the AC table). tSLOT and tREC together: 61 us.
const CASES: [Case; 19] = [
    (LineTime::ResetLow, 480_000, 479_999, |times, ns| Times { reset_low: ns, ..times }),
    (LineTime::ResetHigh, 480_000, 479_999, |times, ns| Times { reset_high: ns, ..times }),
    (LineTime::PresenceDelay, 15_000, 14_999, |times, ns| Times { presence_after: ns, ..times }),
    (LineTime::PresenceDelay, 60_000, 60_001, |times, ns| Times { presence_after: ns, ..times }),
    (LineTime::PresenceLow, 60_000, 59_999, |times, ns| Times { presence_low: ns, ..times }),
    (LineTime::PresenceLow, 240_000, 240_001, |times, ns| Times { presence_low: ns, ..times }),
    (LineTime::WriteZeroLow, 60_000, 59_999, |times, ns| Times { zero_low: ns, ..times }),
    (LineTime::WriteZeroLow, 120_000, 120_001, |times, ns| Times { zero_low: ns, slot: 130_000, ..times }),
    (LineTime::WriteOneLow, 1_000, 999, |times, ns| Times { one_low: ns, ..times }),
    (LineTime::WriteOneLow, 15_000, 15_001, |times, ns| Times { one_low: ns, ..times }),
    (LineTime::ReadLow, 1_001, 1_000, |times, ns| Times { read_low: ns, ..times }),
    // The line is up again before the master samples; whether these are ones or zeros follows from the CRC.
    (LineTime::ReadLow, 14_999, 15_000, |times, ns| Times { read_low: ns, ..times }),
    (LineTime::ReadZeroLow, 15_000, 14_999, |times, ns| Times { read_zero_low: ns, ..times }),
    (LineTime::ReadZeroLow, 60_000, 60_001, |times, ns| Times { read_zero_low: ns, ..times }),
    (LineTime::Slot, 61_000, 60_999, |times, ns| Times { zero_low: 60_000, read_zero_low: 28_000, slot: ns, ..times }),
    (LineTime::Recovery, 1_000, 999, |times, ns| Times { zero_low: 90_000, slot: 90_000 + ns, ..times }),
    // A second time with other values of the rest: limits do not depend on each other.
    (LineTime::ResetLow, 480_000, 479_999, |times, ns| Times { reset_low: ns, one_low: 15_000, ..times }),
    (LineTime::PresenceDelay, 60_000, 60_001, |times, ns| Times { presence_after: ns, presence_low: 60_000, ..times }),
    (LineTime::WriteZeroLow, 60_000, 59_999, |times, ns| Times { zero_low: ns, slot: 500_000, ..times }),
];

#[test]
fn a_time_just_inside_a_limit_is_kept() {
    for (time, inside, _, with) in CASES {
        let report = conversation(with(STANDARD, inside)).report();
        assert_eq!(report.outcome, Outcome::Sound, "{time:?} {inside}: {:?}", report.findings);
        let of = report.times.iter().find(|of| of.time == time).unwrap();
        assert!(of.least_ns <= inside && inside <= of.most_ns, "{time:?} {inside} was not measured: {of:?}");
        assert_eq!(of.broken.sum() + of.too_close.sum(), 0, "{of:?}");
    }
}

#[test]
fn a_time_just_outside_a_limit_is_a_fault_of_whoever_makes_it() {
    for (time, inside, outside, with) in CASES {
        let report = conversation(with(STANDARD, outside)).report();
        for of in &report.times {
            // tSLOT and tREC share their edges: 60 us low and 60.999 us from edge to edge break both.
            let shares = time == LineTime::Slot && of.time == LineTime::Recovery;
            if of.time != time && !shares {
                assert_eq!(of.broken.sum(), 0, "{time:?} {outside} also breaks {of:?}");
            }
        }
        let of = report.times.iter().find(|of| of.time == time).unwrap();
        assert!(of.broken.sum() > 0, "{time:?} {outside}: {of:?}");
        let margin = of.closest.unwrap().margin_ns;
        let is_excluded = time == LineTime::ReadLow;
        assert_eq!(margin, if is_excluded { 0 } else { -1 }, "{time:?}: one nanosecond outside {inside}");
        let findings = about(&report, Topic::Timing);
        let cause = match time.driver() {
            LineDriver::Master => Cause::Master,
            LineDriver::Sensor => Cause::Sensor,
        };
        assert!(findings.iter().all(|finding| finding.cause == cause), "{findings:?}");
        assert!(findings.iter().any(|finding| finding.text.starts_with(time.symbol())), "{findings:?}");
        assert_eq!(report.outcome, Outcome::Faulty);
    }
}

#[test]
fn what_lies_between_two_samples_is_not_held_against_anybody() {
    // The same line, sampled every microsecond: 59.999 us is 59 or 60 us then.
    let sampled = |low: u64| {
        let mut paint = conversation(Times { zero_low: low, ..STANDARD });
        for (at, _) in &mut paint.changes {
            *at = *at / 1_000 * 1_000;
        }
        paint.now = paint.now / 1_000 * 1_000;
        paint.report()
    };
    let of = |low| {
        let report = sampled(low);
        assert_eq!(report.step_ns, 1_000);
        let of = report.times.iter().find(|of| of.time == LineTime::WriteZeroLow).unwrap().clone();
        (of.broken.sum(), of.too_close.sum() > 0)
    };
    assert_eq!(of(61_000), (0, false));
    assert_eq!(of(60_000), (0, true), "60 us may be 59.1 or 60.9");
    assert!(of(59_000).0 > 0, "59 us is less than 60 wherever the edges were");
}

/// The limit of 960 us is for parasite power (DS18B20 datasheet (7/19), AC table, note 13).
#[test]
fn a_long_reset_is_a_fault_on_parasite_power_alone() {
    let with_power = |answer: Option<bool>, ns| {
        let mut paint = Paint::new(STANDARD);
        paint.wait(1);
        if let Some(is_local) = answer {
            paint.reset().write(&[0xCC, 0xB4]).read_bit(is_local);
        }
        paint.times.reset_low = ns;
        paint.read_scratchpad(ROM, SCRATCHPAD);
        let report = paint.report();
        let of = report.times.iter().find(|of| of.time == LineTime::ResetLow).unwrap().clone();
        assert_eq!(of.most_ns, ns, "the length is reported, whatever the verdict");
        (report.outcome, about(&report, Topic::Timing).len())
    };
    assert_eq!(with_power(Some(false), 960_000), (Outcome::Sound, 0));
    assert_eq!(with_power(Some(false), 960_001), (Outcome::Faulty, 1));
    assert_eq!(with_power(None, 1_200_000), (Outcome::SoundWithDoubts, 1));
    assert_eq!(with_power(Some(true), 4_900_000), (Outcome::Sound, 0));
}

#[test]
fn a_presence_pulse_that_is_far_too_long_is_still_one() {
    let report = conversation(Times { presence_low: 300_001, presence_after: 30_000, ..STANDARD }).report();
    let timing = about(&report, Topic::Timing);
    assert_eq!((timing.len(), timing[0].cause), (1, Cause::Sensor), "{:?}", report.findings);
    assert!(timing[0].text.starts_with("tPDLOW") && timing[0].text.contains("300.001 us"), "{timing:?}");
    assert_eq!(report.sensors[0].reads, 1);
}

#[test]
fn several_sensors_make_a_longer_presence_pulse_that_is_legal() {
    const SECOND: [u8; 8] = [0x28, 0xEE, 0x87, 0x54, 0x25, 0x16, 0x02, 0x33];
    // One begins after 15 us, another after 60 us and lasts 240 us: 285 us of low together.
    let both = |ns| {
        let mut paint = Paint::new(Times { presence_after: 15_000, presence_low: ns, reset_high: 600_000, ..STANDARD });
        paint.wait(1).search(ROM, &[SECOND]).search(SECOND, &[ROM]);
        paint.report()
    };
    assert_eq!(both(285_000).outcome, Outcome::Sound);
    assert_eq!(both(285_001).outcome, Outcome::Faulty);
}

#[test]
fn the_ds28ea00_asks_for_longer_slots_and_shorter_resets() {
    // DS28EA00 datasheet, electrical table: tSLOT 65 us, tREC 5 us, tRSTL up to 640 us. A made-up serial number, CRC computed.
    const PART: [u8; 8] = [0x42, 0x81, 0xC4, 0x5E, 0x12, 0xB7, 0x00, 0xF9];
    let with = |rom: [u8; 8], times: Times| {
        let mut paint = Paint::new(times);
        paint.search(rom, &[]);
        paint.report().outcome
    };
    for times in [
        Times { slot: 64_000, zero_low: 60_000, ..STANDARD },
        Times { slot: 69_000, zero_low: 65_000, ..STANDARD },
        Times { reset_low: 700_000, ..STANDARD },
    ] {
        assert_eq!(with(ROM, times), Outcome::Sound, "{times:?}");
        assert_eq!(with(PART, times), Outcome::Faulty, "{times:?}");
    }
}

#[test]
fn a_reset_that_is_far_too_short_is_a_reset() {
    for reset_low in [150_000, 200_000, 299_000, 300_000, 479_999] {
        let report = conversation(Times { reset_low, ..STANDARD }).report();
        assert_eq!(report.activity.resets, 3, "{reset_low}");
        let timing = about(&report, Topic::Timing);
        assert_eq!((timing.len(), timing[0].cause), (1, Cause::Master), "{:?}", report.findings);
        assert!(timing[0].text.starts_with("tRSTL"), "{timing:?}");
        assert_eq!(report.sensors[0].reads, 1);
    }
}

#[test]
fn a_master_that_does_not_wait_after_the_presence_pulse_is_reported_once() {
    // Presence is over 143 us after the release.
    for reset_high in [150_000, 200_000, 299_000, 300_000] {
        let report = conversation(Times { reset_high, ..STANDARD }).report();
        let timing = about(&report, Topic::Timing);
        assert_eq!((report.findings.len(), timing[0].cause), (1, Cause::Master), "{reset_high}: {:?}", report.findings);
        let expected = format!("tRSTH, reset high: {} us", reset_high / 1_000);
        assert!(timing[0].text.starts_with(&expected), "{timing:?}");
        assert_eq!(report.sensors[0].reads, 1);
    }
}

#[test]
fn a_presence_pulse_that_comes_late_is_still_one_and_a_slot_that_comes_early_is_none() {
    for presence_after in [76_000, 150_000, 299_000] {
        let report = conversation(Times { presence_after, ..STANDARD }).report();
        let timing = about(&report, Topic::Timing);
        assert_eq!((report.findings.len(), timing[0].cause), (1, Cause::Sensor), "{:?}", report.findings);
        assert!(timing[0].text.starts_with("tPDHIGH"), "{timing:?}");
    }
    // A pulse that no party sends at its time is noise if the master still waits.
    for low in [3_000, 23_000, 39_000] {
        let mut paint = Paint::new(STANDARD);
        let times = paint.times;
        paint
            .wait(1)
            .low(times.reset_low)
            .wait(times.presence_after)
            .low(times.presence_low)
            .wait(100_000)
            .low(low)
            .wait(240_000);
        paint.write(&[0x55]).write(&ROM).write(&[0xBE]).read(&SCRATCHPAD);
        let report = paint.report();
        assert_eq!((report.findings.len(), report.activity.strays), (1, 1), "{:?}", report.findings);
        assert_eq!(report.sensors[0].reads, 1);
    }
    // No sensor is there, and the master does not wait: its writes are read right, and the reset is unanswered.
    for reset_high in [80_000, 150_000, 299_000] {
        let mut paint = Paint::new(Times { reset_high, ..STANDARD });
        paint.wait(1).lonely_reset().write(&[0xCC, 0x44]);
        let report = paint.report();
        assert_eq!(report.activity.unanswered, 1, "{reset_high}: {:?}", report.findings);
        assert!(report.findings.iter().all(|finding| finding.cause != Cause::Sensor), "{:?}", report.findings);
    }
}

#[test]
fn a_presence_pulse_that_is_far_too_short_is_still_one() {
    for presence_low in [15_000, 39_999] {
        let report = conversation(Times { presence_low, ..STANDARD }).report();
        let timing = about(&report, Topic::Timing);
        assert_eq!((report.findings.len(), timing[0].cause), (1, Cause::Sensor), "{:?}", report.findings);
        assert!(timing[0].text.starts_with("tPDLOW"), "{timing:?}");
    }
}

#[test]
fn a_sensor_may_hold_a_slot_that_polls_its_state_for_as_long_as_any_read_0() {
    for read_zero_low in [49_999, 50_000, 55_000, 59_999] {
        let mut paint = Paint::new(Times { read_zero_low, ..STANDARD });
        paint.wait(1).reset().write(&[0xCC, 0xB4]).read_bit(false);
        paint.convert(ROM).read_bit(false).read_bit(false).read_bit(true).read_scratchpad(ROM, SCRATCHPAD);
        let report = paint.report();
        // The conversion of a sensor on parasite power is not to be polled; nothing else is wrong, and the answer to B4h is seen.
        let power = report.times.iter().find(|of| of.time == LineTime::ReadZeroLow).unwrap();
        assert_eq!(power.most_ns, read_zero_low);
        assert!(about(&report, Topic::NotWaited).is_empty(), "{:?}", report.findings);
        assert!(about(&report, Topic::CutShort).is_empty(), "{:?}", report.findings);
        assert!(!about(&report, Topic::ParasiteTraffic).is_empty(), "{:?}", report.findings);
    }
}

#[test]
fn a_low_that_is_no_slot_is_reported_wherever_nothing_is_due() {
    for low in [130_000, 200_000, 290_000] {
        let mut idle = conversation(STANDARD);
        idle.wait(1_000_000).low(low).wait(1_000_000);
        let mut converting = Paint::new(STANDARD);
        converting.wait(1).convert(ROM).wait(10_000_000).low(low).wait(800_000_000).read_scratchpad(ROM, SCRATCHPAD);
        for paint in [idle, converting] {
            let report = paint.report();
            // One as long as a presence pulse may be one.
            let topic = if low > 285_000 { Topic::Stray } else { Topic::PowerUp };
            assert_eq!((report.activity.strays, about(&report, topic).len()), (1, 1), "{:?}", report.findings);
            assert_eq!((report.findings.len(), report.sensors[0].reads), (1, 1), "{:?}", report.findings);
        }
    }
}
