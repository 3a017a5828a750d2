//! What is a fault in one case and none in another.

use super::conversations::{AT_9_BITS, AT_12_BITS, OTHER, ROM, paint, sound};
use crate::paint::{Paint, STANDARD, Times, about};
use crate::{Cause, Finding, Topic, Weight};

fn all(paint: &Paint) -> Vec<Finding> {
    paint.report().findings
}

#[test]
fn sensors_that_are_on_the_line_one_after_the_other_do_not_answer_together() {
    // Read ROM of one, then of another: each answer is whole.
    let mut one_by_one = paint();
    one_by_one.reset().write(&[0x33]).read(&ROM).wait(1_000_000_000).reset().write(&[0x33]).read(&OTHER);
    one_by_one.reset().write(&[0x33]).read(&ROM);
    let found = all(&one_by_one);
    assert_eq!((found.len(), found[0].topic, found[0].weight), (1, Topic::SeveralAnswer, Weight::Doubt), "{found:?}");
    let mut together = paint();
    together.search(ROM, &[OTHER]).search(OTHER, &[ROM]).reset().write(&[0x33]);
    let both: Vec<u8> = ROM.iter().zip(OTHER).map(|(one, other)| one & other).collect();
    together.read(&both);
    assert!(all(&together).iter().any(|found| (found.topic, found.weight) == (Topic::SeveralAnswer, Weight::Fault)));
}

#[test]
fn a_long_presence_pulse_of_who_knows_how_many_is_a_hint() {
    // Of one sensor 240 us at most, of several 285 us.
    for (presence_low, by_name, expected) in [
        (250_000, false, Some(Weight::Doubt)),
        (285_000, false, Some(Weight::Doubt)),
        (286_000, false, Some(Weight::Fault)),
        (250_000, true, Some(Weight::Fault)),
        (240_000, false, None),
    ] {
        let mut paint = Paint::new(Times { presence_low, reset_high: 600_000, ..STANDARD });
        paint.wait(1).reset().write(&[0xCC, 0xBE]).read(&AT_12_BITS);
        // A search without a conflict shows that there is only one.
        if by_name {
            paint.search(ROM, &[]);
        }
        let report = paint.report();
        let weight = about(&report, Topic::Timing).first().map(|finding| finding.weight);
        assert_eq!(weight, expected, "{presence_low} {by_name}: {:?}", report.findings);
    }
}

#[test]
fn a_one_ends_the_wait_only_of_a_sensor_with_a_supply_wire() {
    let with_power = |answer: Option<bool>| {
        let mut paint = paint();
        paint.wait(1);
        if let Some(is_local) = answer {
            paint.reset().write(&[0x55]).write(&ROM).write(&[0xB4]).read_bit(is_local);
        }
        paint.convert(ROM).wait(600_000_000).read_bit(true).read_scratchpad(ROM, AT_12_BITS);
        about(&paint.report(), Topic::NotWaited).len()
    };
    assert_eq!((with_power(Some(true)), with_power(None)), (0, 1));
}

#[test]
fn a_line_that_was_low_for_long_may_have_been_without_supply() {
    let written = |low: u64| {
        let mut paint = paint();
        paint
            .reset()
            .write(&[0x55])
            .write(&ROM)
            .write(&[0x4E, 0x4B, 0x46, 0x1F])
            .wait(1_000_000)
            .low(low)
            .wait(100_000_000);
        paint.read_scratchpad(ROM, AT_12_BITS);
        paint.report()
    };
    let off = written(50_000_000);
    assert!(about(&off, Topic::WriteNotTaken).is_empty(), "{:?}", off.findings);
    let stuck = about(&off, Topic::StuckLow);
    // Where it is low, and not where the shortest reset is.
    assert!(stuck.len() == 1 && stuck[0].at_ns > 10_000_000 && stuck[0].text.contains("50 ms"), "{stuck:?}");
    assert_eq!(about(&written(500_000), Topic::WriteNotTaken).len(), 1);
}

#[test]
fn a_damaged_rom_code_that_the_master_writes_is_the_masters() {
    let mut wrong = ROM;
    wrong[3] ^= 1;
    let mut paint = paint();
    paint.read_scratchpad(ROM, AT_12_BITS).reset().write(&[0x55]).write(&wrong);
    let found = all(&paint);
    assert_eq!((found.len(), found[0].cause), (1, Cause::Master), "{found:?}");
}

#[test]
fn the_same_topic_of_another_weight_or_cause_is_another_finding() {
    // 85 degC before any conversion is a hint about the master, after one and far from the last reading a fault of the line.
    const POWER_ON: [u8; 9] = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C];
    let mut paint = paint();
    paint.read_scratchpad(ROM, POWER_ON).convert(ROM).wait(800_000_000).read_scratchpad(ROM, AT_12_BITS);
    paint.convert(ROM).wait(800_000_000).read_scratchpad(ROM, POWER_ON);
    let report = paint.report();
    let found = about(&report, Topic::PowerOnValue);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].weight == Weight::Fault && found[0].text.contains("far from the reading before"), "{found:?}");
    assert!(found[1].weight == Weight::Doubt && found[1].text.contains("no conversion was seen"), "{found:?}");
}

#[test]
fn a_capture_that_ends_right_after_a_reset_reports_no_missing_presence_pulse() {
    for (wait, expected) in [(0, 0), (200_000, 0), (500_000, 1)] {
        let mut paint = paint();
        paint.read_scratchpad(ROM, AT_9_BITS).low(500_000).wait(wait);
        assert_eq!(about(&paint.report(), Topic::NoPresence).len(), expected, "{wait}");
    }
}

#[test]
fn a_conversion_is_judged_by_the_resolution_it_was_made_at() {
    let mut paint = paint();
    paint.read_scratchpad(ROM, AT_9_BITS).convert(ROM).wait(100_000_000).read_scratchpad(ROM, AT_9_BITS);
    paint.reset().write(&[0x55]).write(&ROM).write(&[0x4E, 0x4B, 0x46, 0x7F]).read_scratchpad(ROM, AT_12_BITS);
    sound(&paint);
    paint.convert(ROM).wait(100_000_000).read_scratchpad(ROM, AT_12_BITS);
    assert_eq!(about(&paint.report(), Topic::NotWaited).len(), 1);
}

#[test]
fn the_last_power_supply_read_decides_who_is_on_parasite_power() {
    let mut paint = paint();
    paint.reset().write(&[0xCC, 0xB4]).read_bit(false).reset().write(&[0xCC, 0xB4]).read_bit(true);
    paint.read_scratchpad(ROM, AT_12_BITS).convert(ROM).read_bit(false).read_bit(true).read_scratchpad(ROM, AT_12_BITS);
    sound(&paint);
}

/// What lies in a stretch that is not known may be a write, a poll, or a change of speed.
#[test]
fn nothing_is_expected_of_commands_before_a_damaged_place() {
    let damaged = |first: &dyn Fn(&mut Paint), then: &dyn Fn(&mut Paint)| {
        let mut paint = paint();
        first(&mut paint);
        let at = paint.now;
        paint.wait(300_000);
        then(&mut paint);
        let vcd = paint.vcd().replacen(
            &format!("#{} 0!", at + 300_000),
            &format!("#{at} x!\n#{} 1!\n#{} 0!", at + 200_000, at + 300_000),
            1,
        );
        let report = crate::paint::report(&vcd);
        assert_eq!(report.damaged, 1);
        report.findings
    };
    let write = |paint: &mut Paint| {
        paint.reset().write(&[0x55]).write(&ROM).write(&[0x4E, 0x4B, 0x46, 0x1F]);
    };
    let read = |paint: &mut Paint| {
        paint.read_scratchpad(ROM, AT_12_BITS);
    };
    let convert = |paint: &mut Paint| {
        paint.convert(ROM);
    };
    assert_eq!(damaged(&write, &read), []);
    assert_eq!(damaged(&convert, &read), []);
}
