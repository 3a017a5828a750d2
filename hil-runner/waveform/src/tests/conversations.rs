//! Commands that the datasheets forbid, and wrong answers: each once as it must be, and once not.

use crate::paint::{Paint, STANDARD, about};
use crate::{Cause, Outcome, Topic, UnjudgedWhat, Weight};

pub(super) const ROM: [u8; 8] = [0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8D];
pub(super) const OTHER: [u8; 8] = [0x28, 0xEE, 0x87, 0x54, 0x25, 0x16, 0x02, 0x33];
/// 0191h, +25.0625 degC (DS18B20 datasheet (7/19), Table 1), at 12 bits and at 9; CRC computed.
pub(super) const AT_12_BITS: [u8; 9] = [0x91, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0F, 0x10, 0x25];
pub(super) const AT_9_BITS: [u8; 9] = [0x91, 0x01, 0x4B, 0x46, 0x1F, 0xFF, 0x0F, 0x10, 0xB5];
/// As the datasheet has it after power-up: 0550h (Figure 9), CRC computed.
const POWER_ON: [u8; 9] = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C];
/// 9 bits convert in 93.75 ms at most, 12 bits in 750 ms (Table 2).
const MOST_9_BITS_NS: u64 = 93_750_000;
const MOST_12_BITS_NS: u64 = 750_000_000;

pub(super) fn paint() -> Paint {
    Paint::new(STANDARD)
}

/// The ROM code of a family with this number. The published polynomial X^8 + X^5 + X^4 + 1 (DS18B20 datasheet (7/19), CRC
/// Generation), by a library.
pub(super) fn rom(family: u8, number: u16) -> [u8; 8] {
    let [low, high] = number.to_le_bytes();
    let mut rom = [family, low, high, 0, 0, 0, 0, 0];
    rom[7] = crc::Crc::<u8>::new(&crc::CRC_8_MAXIM_DOW).checksum(&rom[..7]);
    rom
}

/// That a topic is found once, with this weight and cause and something of this sentence, and no other fault.
pub(super) fn only(paint: &Paint, topic: Topic, weight: Weight, cause: Cause, says: &str) {
    let report = paint.report();
    let found = about(&report, topic);
    assert_eq!(found.len(), 1, "{topic:?}: {:?}", report.findings);
    assert_eq!((found[0].weight, found[0].cause), (weight, cause), "{found:?}");
    assert!(found[0].text.contains(says), "{found:?}");
    assert!(
        report.findings.iter().all(|other| other.topic == topic || other.weight == Weight::Doubt),
        "{:?}",
        report.findings
    );
    assert_eq!(report.outcome == Outcome::Faulty, weight == Weight::Fault);
}

/// That nothing is found, and that all but the commands to devices of other families is judged.
pub(super) fn unknown_family(paint: &Paint) {
    let report = paint.report();
    assert_eq!((report.outcome, &report.findings), (Outcome::Incomplete, &Vec::new()));
    let unjudged: Vec<UnjudgedWhat> = report.unjudged.iter().map(|of| of.what).collect();
    assert_eq!(unjudged, [UnjudgedWhat::OtherFamilies]);
}

pub(super) fn sound(paint: &Paint) {
    let report = paint.report();
    assert_eq!((report.outcome, &report.findings), (Outcome::Sound, &Vec::new()));
}

/// Convert T, so long a wait, and a reading.
fn measured(paint: &mut Paint, wait_ns: u64, scratchpad: [u8; 9]) {
    paint.convert(ROM).wait(wait_ns).read_scratchpad(ROM, scratchpad);
}

#[test]
fn a_conversion_that_was_not_waited_for() {
    // From the end of the command to that of Read Scratchpad there are a reset and 80 slots more.
    let way_ns = 1_000_000 + 80 * STANDARD.slot;
    for (scratchpad, most_ns, bits) in [(AT_9_BITS, MOST_9_BITS_NS, "9 bits"), (AT_12_BITS, MOST_12_BITS_NS, "12 bits")]
    {
        let mut waited = paint();
        measured(&mut waited, most_ns, scratchpad);
        sound(&waited);
        let mut hurried = paint();
        measured(&mut hurried, most_ns - way_ns - 1_000_000, scratchpad);
        only(&hurried, Topic::NotWaited, Weight::Fault, Cause::Master, bits);
    }
}

#[test]
fn a_conversion_that_was_seen_to_be_done_need_not_be_waited_for() {
    let mut polled = paint();
    polled.convert(ROM).read_bit(false).read_bit(false).read_bit(true).read_scratchpad(ROM, AT_12_BITS);
    sound(&polled);
    // Ones alone are also what a line without sensors reads.
    let mut ones = paint();
    ones.convert(ROM).read_bit(true).read_bit(true).read_scratchpad(ROM, AT_12_BITS);
    only(&ones, Topic::NotWaited, Weight::Fault, Cause::Master, "never seen to be done");
    // What was seen last counts: a 0 is a sensor at work.
    let mut busy = paint();
    busy.convert(ROM).read_bit(true).read_bit(false).read_scratchpad(ROM, AT_12_BITS);
    only(&busy, Topic::NotWaited, Weight::Fault, Cause::Master, "never seen to be done");
}

#[test]
fn a_conversion_of_all_counts_for_those_who_are_seen_later() {
    let mut paint = paint();
    paint.reset().write(&[0xCC, 0x44]).wait(10_000_000).read_scratchpad(ROM, AT_12_BITS);
    only(&paint, Topic::NotWaited, Weight::Fault, Cause::Master, "750 ms");
}

#[test]
fn a_wrong_crc_of_a_scratchpad() {
    for bit in [0, 17, 40, 71] {
        let mut bytes = AT_12_BITS;
        bytes[bit / 8] ^= 1 << (bit % 8);
        let mut paint = paint();
        measured(&mut paint, MOST_12_BITS_NS, bytes);
        only(&paint, Topic::Crc, Weight::Fault, Cause::Line, "CRC is");
    }
}

#[test]
fn a_wrong_crc_of_a_rom_code() {
    let mut wrong = ROM;
    wrong[3] ^= 0x10;
    let mut found = paint();
    found.search(wrong, &[]);
    only(&found, Topic::Crc, Weight::Fault, Cause::Line, "28 EE 94 E7 27 16 01 8D");
    let mut read = paint();
    read.reset().write(&[0x33]).read(&wrong);
    only(&read, Topic::Crc, Weight::Fault, Cause::Line, "Read ROM was");
    let mut conditional = paint();
    conditional.reset().write(&[0x0F]).read(&wrong);
    only(&conditional, Topic::Crc, Weight::Fault, Cause::Line, "Conditional Read ROM was");
}

#[test]
fn a_line_without_sensors_and_a_line_that_is_low_are_no_wrong_crc() {
    let mut silent = paint();
    measured(&mut silent, MOST_12_BITS_NS, [0xFF; 9]);
    only(&silent, Topic::NoAnswer, Weight::Fault, Cause::Line, "no sensor answered");
    let mut low = paint();
    measured(&mut low, MOST_12_BITS_NS, [0; 9]);
    only(&low, Topic::AllZeros, Weight::Fault, Cause::Line, "zeros");
}

#[test]
fn a_write_that_never_took() {
    let write = |paint: &mut Paint| {
        paint.reset().write(&[0x55]).write(&ROM).write(&[0x4E, 0x4B, 0x46, 0x1F]);
    };
    let mut took = paint();
    write(&mut took);
    took.read_scratchpad(ROM, AT_9_BITS);
    sound(&took);
    let mut did_not = paint();
    write(&mut did_not);
    did_not.read_scratchpad(ROM, AT_12_BITS);
    only(&did_not, Topic::WriteNotTaken, Weight::Fault, Cause::Sensor, "4B 46 1F");
    // Recall E2 takes back what was written and not copied.
    let mut recalled = paint();
    write(&mut recalled);
    recalled.reset().write(&[0x55]).write(&ROM).write(&[0xB8]).read_bit(true).read_scratchpad(ROM, AT_12_BITS);
    sound(&recalled);
    // Bits that cannot be written are no difference (Figure 10).
    let mut fixed = paint();
    fixed.reset().write(&[0x55]).write(&ROM).write(&[0x4E, 0x4B, 0x46, 0x60]).read_scratchpad(ROM, AT_12_BITS);
    sound(&fixed);
}

#[test]
fn function_commands_without_addressing() {
    let mut no_reset = paint();
    no_reset.read_scratchpad(ROM, AT_12_BITS).write(&[0x48]);
    only(
        &no_reset,
        Topic::NotAddressed,
        Weight::Fault,
        Cause::Master,
        "Copy Scratchpad (48h) right after another function",
    );
    let mut no_rom = paint();
    no_rom.reset().write(&[0x44]);
    only(&no_rom, Topic::NotAddressed, Weight::Fault, Cause::Master, "Convert T (44h) right after the reset");
    // Application Note 187 goes on after a search; the datasheet requires a reset.
    let mut searched = paint();
    searched.search(ROM, &[]).write(&[0x44]);
    only(&searched, Topic::NotAddressed, Weight::Doubt, Cause::Master, "right after a search pass");
}

#[test]
fn the_story_of_a_write_without_reset() {
    // What a real master did: Read Scratchpad, and at once Write Scratchpad and Copy Scratchpad.
    let mut paint = paint();
    paint.read_scratchpad(ROM, AT_12_BITS).write(&[0x4E, 0x4B, 0x46, 0x1F, 0x48]);
    paint.read_scratchpad(ROM, AT_12_BITS);
    let report = paint.report();
    let topics: Vec<Topic> = report.findings.iter().map(|finding| finding.topic).collect();
    assert_eq!(topics, [Topic::NotAddressed, Topic::NotAddressed, Topic::WriteNotTaken], "{:?}", report.findings);
    assert_eq!(report.sensors[0].copies, 0, "a copy that reaches no sensor is none");
}

#[test]
fn reading_on_is_no_command() {
    let mut paint = paint();
    paint.read_scratchpad(ROM, AT_12_BITS).read(&[0xFF; 3]);
    sound(&paint);
}

#[test]
fn power_on_values() {
    let mut never = paint();
    never.read_scratchpad(ROM, POWER_ON);
    only(&never, Topic::PowerOnValue, Weight::Doubt, Cause::Master, "no conversion was seen");
    let mut lost = paint();
    measured(&mut lost, MOST_12_BITS_NS, AT_12_BITS);
    measured(&mut lost, MOST_12_BITS_NS, POWER_ON);
    only(&lost, Topic::PowerOnValue, Weight::Fault, Cause::Line, "far from the reading before");
    // It may be as hot as that.
    let mut hot = paint();
    measured(&mut hot, MOST_12_BITS_NS, POWER_ON);
    only(&hot, Topic::PowerOnValue, Weight::Doubt, Cause::Line, "measured, or");
}

#[test]
fn needless_copies_and_wear() {
    let copy = |paint: &mut Paint| {
        paint.reset().write(&[0x55]).write(&ROM).write(&[0x48]).wait(10_000_000);
    };
    let write = |paint: &mut Paint, configuration: u8| {
        paint.reset().write(&[0x55]).write(&ROM).write(&[0x4E, 0x4B, 0x46, configuration]);
    };
    let mut once = paint();
    write(&mut once, 0x1F);
    copy(&mut once);
    sound(&once);
    let mut for_nothing = paint();
    for_nothing.read_scratchpad(ROM, AT_12_BITS);
    copy(&mut for_nothing);
    only(
        &for_nothing,
        Topic::NeedlessCopy,
        Weight::Doubt,
        Cause::Master,
        "nothing was written before it in this capture",
    );
    let mut recalled = paint();
    recalled.reset().write(&[0x55]).write(&ROM).write(&[0xB8]).read_bit(true);
    copy(&mut recalled);
    only(&recalled, Topic::NeedlessCopy, Weight::Fault, Cause::Master, "since it was the same");
    // A year between two copies: no wear, but the second changes nothing.
    let mut again = paint();
    write(&mut again, 0x1F);
    copy(&mut again);
    again.wait(365 * 24 * 3_600_000_000_000);
    write(&mut again, 0x1F);
    copy(&mut again);
    only(&again, Topic::NeedlessCopy, Weight::Fault, Cause::Master, "EEPROM holds 4B 46 1F already");
    // A new value each second: none is needless, and 50 000 of them (NV table) are gone in 14 h.
    let mut often = paint();
    for round in 0..4 {
        write(&mut often, [0x1F, 0x3F][round % 2]);
        copy(&mut often);
        often.wait(1_000_000_000);
    }
    only(&often, Topic::Wear, Weight::Doubt, Cause::Master, "4 copies to EEPROM, 1.0");
    assert!(about(&often.report(), Topic::Wear)[0].text.ends_with("used up in 14 h"), "{:?}", often.report().findings);
}

#[test]
fn a_line_that_has_to_power_a_conversion() {
    let of_power = |is_parasite: bool| {
        let mut paint = paint();
        paint.reset().write(&[0x55]).write(&ROM).write(&[0xB4]).read_bit(!is_parasite);
        paint
    };
    let mut quiet = of_power(true);
    measured(&mut quiet, MOST_12_BITS_NS, AT_12_BITS);
    sound(&quiet);
    let mut local = of_power(false);
    local.convert(ROM).wait(1_000_000).reset().write(&[0xCC, 0xB4]).read_bit(true);
    sound(&local);
    let mut disturbed = of_power(true);
    disturbed
        .read_scratchpad(ROM, AT_12_BITS)
        .convert(ROM)
        .wait(100_000_000)
        .reset()
        .write(&[0xCC, 0xB4])
        .read_bit(false);
    only(&disturbed, Topic::ParasiteTraffic, Weight::Fault, Cause::Master, "for up to 750 ms");
    // As long as its resolution is not known, no more is required than at 9 bits.
    let mut unknown = of_power(true);
    measured(&mut unknown, MOST_9_BITS_NS, AT_9_BITS);
    sound(&unknown);
    let mut polled = of_power(true);
    polled.convert(ROM).read_bit(true);
    only(&polled, Topic::ParasiteTraffic, Weight::Fault, Cause::Master, "read slots right after Convert T");
}

/// NV table: a copy takes up to 10 ms, and the line has to power that, too.
#[test]
fn a_line_that_has_to_power_a_copy() {
    let copied = |is_parasite: bool, wait_ns: u64| {
        let mut paint = paint();
        paint.reset().write(&[0x55]).write(&ROM).write(&[0xB4]).read_bit(!is_parasite);
        paint.reset().write(&[0x55]).write(&ROM).write(&[0x4E, 0x4B, 0x46, 0x1F]);
        paint.reset().write(&[0x55]).write(&ROM).write(&[0x48]).wait(wait_ns);
        paint.reset().write(&[0xCC, 0xB4]).read_bit(!is_parasite);
        paint
    };
    sound(&copied(true, 10_000_000));
    sound(&copied(false, 1_000_000));
    let disturbed = copied(true, 9_000_000);
    only(&disturbed, Topic::ParasiteTraffic, Weight::Fault, Cause::Master, "for up to 10 ms");
    assert!(about(&disturbed.report(), Topic::ParasiteTraffic)[0].text.contains("Copy Scratchpad"));
    let mut polled = paint();
    polled.reset().write(&[0xCC, 0xB4]).read_bit(false);
    polled.reset().write(&[0xCC, 0x4E, 0x4B, 0x46, 0x1F]).reset().write(&[0xCC, 0x48]).read_bit(false);
    only(&polled, Topic::ParasiteTraffic, Weight::Fault, Cause::Master, "read slots right after Copy Scratchpad");
}

/// The commands of a device that is no thermometer are not judged.
#[test]
fn devices_that_are_no_thermometers_are_left_alone() {
    let foreign = rom(0x2D, 9);
    let mut addressed = paint();
    addressed.reset().write(&[0x55]).write(&foreign).write(&[0x0F, 0, 0, 0x44, 0x4E, 0xBE, 1, 2, 3]).write_bit(true);
    addressed.reset().write(&[0x55]).write(&foreign).write(&[0xBE]).read(&[1, 2, 3]);
    addressed.reset().write(&[0x55]).write(&foreign).write(&[0x44]).read_bit(true);
    unknown_family(&addressed);
    let report = addressed.report();
    let sensor = &report.sensors[0];
    assert_eq!((report.sensors.len(), sensor.addressed, sensor.conversions, sensor.reads), (1, 3, 0, 0));
    // The thermometer beside it is still the only one.
    addressed.reset().write(&[0xCC, 0x44]).wait(MOST_12_BITS_NS).reset().write(&[0xCC, 0xBE]).read(&AT_12_BITS);
    unknown_family(&addressed);
    addressed.read_scratchpad(ROM, AT_12_BITS);
    unknown_family(&addressed);
    let report = addressed.report();
    let counts: Vec<(u64, u64)> = report.sensors.iter().map(|sensor| (sensor.conversions, sensor.reads)).collect();
    assert_eq!(counts, [(1, 2), (0, 0)], "{:?}", report.sensors);
    // To a thermometer the same is a fault.
    let mut thermometer = paint();
    thermometer.reset().write(&[0x55]).write(&ROM).write(&[0xFF, 0x44]);
    let report = thermometer.report();
    let topics: Vec<Topic> = report.findings.iter().map(|finding| finding.topic).collect();
    assert_eq!(topics, [Topic::UnknownCommand, Topic::NotAddressed], "{:?}", report.findings);
    assert!(report.findings[1].text.contains("right after another function"), "{:?}", report.findings);
}

#[test]
fn several_that_are_made_to_answer_at_once() {
    let mut one = paint();
    one.search(ROM, &[]).reset().write(&[0xCC, 0xBE]).read(&AT_12_BITS);
    sound(&one);
    for command in [&[0xCC, 0xBE][..], &[0x33]] {
        let mut two = paint();
        two.search(ROM, &[OTHER]).search(OTHER, &[ROM]);
        two.reset().write(command).read(&AT_12_BITS[..8]);
        let report = two.report();
        assert_eq!(about(&report, Topic::SeveralAnswer).len(), 1, "{:?}", report.findings);
    }
}

/// One Skip ROM and Convert T, whoever is named afterwards.
#[test]
fn what_was_said_to_all_is_counted_once() {
    let mut paint = paint();
    paint.reset().write(&[0xCC, 0xB4]).read_bit(true).reset().write(&[0xCC, 0x44]).wait(MOST_12_BITS_NS);
    let mut nameless = paint.clone();
    nameless.reset().write(&[0xCC, 0xBE]).read(&AT_12_BITS);
    let report = nameless.report();
    assert_eq!((report.sensors.len(), report.sensors[0].conversions, &report.sensors[0].rom), (1, 1, &None));
    paint.read_scratchpad(ROM, AT_12_BITS).read_scratchpad(OTHER, AT_12_BITS);
    let report = paint.report();
    assert_eq!(report.sensors.len(), 2, "{:?}", report.sensors);
    for sensor in &report.sensors {
        assert_eq!((sensor.conversions, sensor.is_parasite), (1, Some(false)), "{sensor:?}");
    }
    sound(&paint);
    // Another sensor is on parasite power: of one that is seen later it is not known.
    let third = rom(0x28, 3);
    paint.reset().write(&[0xCC, 0xB4]).read_bit(false).read_scratchpad(third, AT_12_BITS);
    let powers: Vec<Option<bool>> = paint.report().sensors.iter().map(|sensor| sensor.is_parasite).collect();
    assert_eq!(powers, [None, Some(false), Some(false)]);
}

#[test]
fn resets_without_a_presence_pulse() {
    let mut never = paint();
    never.lonely_reset().lonely_reset();
    only(&never, Topic::NoPresence, Weight::Fault, Cause::Line, "any of 2 resets");
    let mut once = paint();
    once.lonely_reset();
    only(&once, Topic::NoPresence, Weight::Fault, Cause::Line, "the only reset");
    let mut sometimes = paint();
    sometimes.read_scratchpad(ROM, AT_12_BITS).lonely_reset();
    only(&sometimes, Topic::NoPresence, Weight::Fault, Cause::Line, "1 of 2 resets");
}

#[test]
fn searches_that_lead_nowhere() {
    let mut silent = paint();
    silent.reset().write(&[0xF0]).read_bit(true).read_bit(true);
    only(&silent, Topic::NoAnswer, Weight::Fault, Cause::Line, "no sensor took part");
    // No alarm is an answer.
    let mut no_alarm = paint();
    no_alarm.reset().write(&[0xEC]).read_bit(true).read_bit(true);
    sound(&no_alarm);
    // At the end of a chain no sensor is left to answer (DS28EA00 datasheet, discovery).
    let mut no_chain = paint();
    no_chain.reset().write(&[0x0F]).read(&[0xFF; 8]);
    sound(&no_chain);
    let mut not_there = paint();
    not_there.reset().write(&[0x33]).read(&[0xFF; 8]);
    only(&not_there, Topic::NoAnswer, Weight::Fault, Cause::Line, "no sensor answered Read ROM");
    let mut lost = paint();
    lost.reset().write(&[0xF0]).read_bit(false).read_bit(true).write_bit(false).read_bit(true).read_bit(true);
    only(&lost, Topic::Search, Weight::Fault, Cause::Line, "bit 2 of 64");
}

#[test]
fn commands_that_are_cut_short() {
    let mut write = paint();
    write.reset().write(&[0xCC, 0x4E, 0x4B]).reset().write(&[0xCC, 0xB4]).read_bit(true);
    only(&write, Topic::CutShort, Weight::Fault, Cause::Master, "1 byte of 3");
    let mut rom = paint();
    rom.reset().write(&[0x55]).write(&ROM[..4]).reset().write(&[0xCC, 0xB4]).read_bit(true);
    only(&rom, Topic::CutShort, Weight::Fault, Cause::Master, "4 bytes");
    let mut byte = paint();
    byte.reset().write_bit(true).write_bit(false).reset().write(&[0xCC, 0xB4]).read_bit(true);
    only(&byte, Topic::CutShort, Weight::Doubt, Cause::Master, "2 bits");
    let mut read = paint();
    read.reset()
        .write(&[0x55])
        .write(&ROM)
        .write(&[0xBE])
        .read(&AT_12_BITS[..2])
        .reset()
        .write(&[0xCC, 0xB4])
        .read_bit(true);
    only(&read, Topic::NoCrcRead, Weight::Doubt, Cause::Master, "2 bytes of 9");
}

#[test]
fn commands_that_no_datasheet_has() {
    let mut paint = paint();
    paint.reset().write(&[0x99 ^ 0xFF, 0x12, 0x34]);
    only(&paint, Topic::UnknownCommand, Weight::Fault, Cause::Master, "66h");
}

#[test]
fn what_no_sensor_of_its_datasheet_sends_is_a_fault_and_what_one_hardly_sends_a_doubt() {
    // Figure 9: bytes 5 and 7 are FFh and 10h; Figure 10: bits 4 to 0 of the configuration byte are 1. CRCs computed.
    use Weight::{Doubt, Fault};
    for (bytes, weight, says) in [
        ([0x91, 0x01, 0x4B, 0x46, 0x7F, 0x00, 0x0F, 0x00, 0x6A], Doubt, "look-alike"),
        ([0x00, 0x08, 0x4B, 0x46, 0x7F, 0xFF, 0x0F, 0x10, 0], Fault, "sign bits"),
        ([0x91, 0x01, 0x4B, 0x46, 0x60, 0xFF, 0x0F, 0x10, 0], Fault, "configuration byte"),
        ([0xF0, 0x07, 0x4B, 0x46, 0x7F, 0xFF, 0x0F, 0x10, 0], Doubt, "127 degC"),
    ] {
        let mut bytes = bytes;
        // The published polynomial X^8 + X^5 + X^4 + 1 (DS18B20 datasheet (7/19), CRC Generation), by a library.
        bytes[8] = crc::Crc::<u8>::new(&crc::CRC_8_MAXIM_DOW).checksum(&bytes[..8]);
        let mut paint = paint();
        measured(&mut paint, MOST_12_BITS_NS, bytes);
        only(&paint, Topic::Unlike, weight, Cause::Sensor, says);
        let outcome = if weight == Fault { Outcome::Faulty } else { Outcome::SoundWithDoubts };
        assert_eq!(paint.report().outcome, outcome);
    }
}

#[test]
fn pulses_of_no_party_and_a_line_that_stays_low() {
    let mut noise = paint();
    noise.read_scratchpad(ROM, AT_12_BITS).low(100).wait(1_000_000);
    only(&noise, Topic::Stray, Weight::Fault, Cause::Line, "0.1 us");
    let mut stuck = paint();
    stuck.read_scratchpad(ROM, AT_12_BITS);
    let fell = stuck.now;
    stuck.changes.push((fell, false));
    stuck.wait(50_000_000);
    only(&stuck, Topic::StuckLow, Weight::Fault, Cause::Line, "50 ms");
}

#[test]
fn a_line_without_resets_is_not_called_sound() {
    let mut paint = paint();
    paint.write(&[1, 2, 3]);
    assert_eq!(paint.report().outcome, Outcome::NothingSeen);
    assert_eq!(paint.report().activity.unassigned, 24);
}
