//! What scratchpads and EEPROMs hold, sensor by sensor: which of them a write and a copy reach, and what they change.

use super::conversations::{AT_9_BITS, AT_12_BITS, OTHER, ROM, only, paint, rom, sound};
use crate::paint::{Paint, about};
use crate::{Cause, Outcome, Topic, Weight};

const YEAR_NS: u64 = 365 * 24 * 3_600_000_000_000;
/// tWR at most: 10 ms (DS18B20 datasheet (7/19), NV table).
const COPY_NS: u64 = 10_000_000;
/// A DS18S20 at 25.0 degC; bytes 4 and 5 read FFh (DS18S20 datasheet, Memory). CRC computed.
const WITHOUT_CONFIGURATION: [u8; 9] = [0x32, 0x00, 0x4B, 0x46, 0xFF, 0xFF, 0x0C, 0x10, 0x6B];

fn ds18s20(number: u16) -> [u8; 8] {
    rom(0x10, number)
}

fn write(paint: &mut Paint, rom: [u8; 8], settings: &[u8]) {
    paint.reset().write(&[0x55]).write(&rom).write(&[0x4E]).write(settings);
}

fn copy(paint: &mut Paint, rom: [u8; 8]) {
    paint.reset().write(&[0x55]).write(&rom).write(&[0x48]).wait(COPY_NS);
}

#[test]
fn two_bytes_are_a_whole_write_where_no_sensor_has_a_configuration_register() {
    let (one, two) = (ds18s20(1), ds18s20(2));
    let write_to_all = |paint: &mut Paint| {
        paint.reset().write(&[0xCC, 0x4E, 0x4B, 0x46]).reset().write(&[0xCC, 0xB4]).read_bit(true);
    };
    let mut alike = paint();
    alike.search(one, &[two]).search(two, &[one]);
    write_to_all(&mut alike);
    sound(&alike);
    // What is no thermometer takes none.
    let foreign = rom(0x2D, 9);
    let mut beside = paint();
    beside.search(one, &[foreign]).search(foreign, &[one]);
    write_to_all(&mut beside);
    sound(&beside);
    let mut mixed = paint();
    mixed.search(one, &[ROM]).search(ROM, &[one]);
    write_to_all(&mut mixed);
    only(&mixed, Topic::CutShort, Weight::Fault, Cause::Master, "2 bytes of 3");
}

#[test]
fn what_is_written_to_all_reaches_those_who_are_seen_later() {
    let written_to_all = || {
        let mut paint = paint();
        paint.reset().write(&[0xCC, 0x4E, 0x4B, 0x46, 0x1F]).read_scratchpad(ROM, AT_9_BITS);
        paint
    };
    let mut copied = written_to_all();
    copy(&mut copied, OTHER);
    sound(&copied);
    let mut not_taken = written_to_all();
    not_taken.read_scratchpad(OTHER, AT_12_BITS);
    only(&not_taken, Topic::WriteNotTaken, Weight::Doubt, Cause::Master, "or this sensor was not there yet");
    let mut known_before = paint();
    known_before.read_scratchpad(OTHER, AT_12_BITS).reset().write(&[0xCC, 0x4E, 0x4B, 0x46, 0x1F]);
    known_before.read_scratchpad(OTHER, AT_12_BITS);
    only(&known_before, Topic::WriteNotTaken, Weight::Fault, Cause::Sensor, "4B 46 1F");
    // A recall to all reverts it in every sensor.
    let mut recalled = written_to_all();
    recalled.reset().write(&[0xCC, 0xB8]).read_bit(true).read_scratchpad(OTHER, AT_12_BITS);
    sound(&recalled);
    let mut kept = written_to_all();
    kept.reset().write(&[0xCC, 0x48]).wait(COPY_NS).wait(YEAR_NS);
    write(&mut kept, OTHER, &[0x4B, 0x46, 0x1F]);
    copy(&mut kept, OTHER);
    only(&kept, Topic::NeedlessCopy, Weight::Doubt, Cause::Master, "EEPROM holds 4B 46 1F already");
    let copies: Vec<u64> = kept.report().sensors.iter().map(|sensor| sensor.copies).collect();
    assert_eq!(copies.iter().sum::<u64>(), 3, "{copies:?}");
}

#[test]
fn what_is_written_to_one_does_not_reach_another() {
    let mut paint = paint();
    write(&mut paint, ROM, &[0x4B, 0x46, 0x1F]);
    paint.read_scratchpad(ROM, AT_9_BITS).read_scratchpad(OTHER, AT_12_BITS);
    sound(&paint);
    copy(&mut paint, OTHER);
    only(&paint, Topic::NeedlessCopy, Weight::Doubt, Cause::Master, "nothing was written before it");
}

#[test]
fn each_eeprom_wears_by_its_own_copies() {
    let mut paint = paint();
    for configuration in [0x1F, 0x3F] {
        write(&mut paint, ROM, &[0x4B, 0x46, configuration]);
        copy(&mut paint, ROM);
        paint.wait(1_000_000_000);
    }
    only(&paint, Topic::Wear, Weight::Doubt, Cause::Master, "2 copies to EEPROM, 1.0");
    // However long after that another one is copied.
    paint.wait(YEAR_NS);
    write(&mut paint, OTHER, &[0x4B, 0x46, 0x1F]);
    copy(&mut paint, OTHER);
    only(&paint, Topic::Wear, Weight::Doubt, Cause::Master, "2 copies to EEPROM, 1.0");
}

#[test]
fn settings_without_a_configuration_byte_are_two_bytes() {
    let sensor = ds18s20(1);
    let kept = |read_back: bool, limits: &[u8]| {
        let mut paint = paint();
        write(&mut paint, sensor, &[0x4B, 0x46]);
        if read_back {
            paint.read_scratchpad(sensor, WITHOUT_CONFIGURATION);
        }
        copy(&mut paint, sensor);
        paint.wait(YEAR_NS);
        write(&mut paint, sensor, limits);
        copy(&mut paint, sensor);
        paint
    };
    for read_back in [false, true] {
        let same = kept(read_back, &[0x4B, 0x46]);
        only(&same, Topic::NeedlessCopy, Weight::Fault, Cause::Master, "EEPROM holds 4B 46 already");
        sound(&kept(read_back, &[0x4B, 0x47]));
    }
    // Three bytes to all, and this one takes two of them.
    let mut all = paint();
    all.reset().write(&[0xCC, 0x4E, 0x4B, 0x46, 0x1F]).read_scratchpad(sensor, WITHOUT_CONFIGURATION);
    all.reset().write(&[0xCC, 0x48]).wait(COPY_NS).wait(YEAR_NS);
    write(&mut all, sensor, &[0x4B, 0x46]);
    copy(&mut all, sensor);
    only(&all, Topic::NeedlessCopy, Weight::Fault, Cause::Master, "EEPROM holds 4B 46 already");
}

/// Figure 10: bits 4 to 0 of the configuration byte read 1, whatever was written.
#[test]
fn bits_that_cannot_be_written_do_not_make_a_copy_needed() {
    let mut same = paint();
    write(&mut same, ROM, &[0x4B, 0x46, 0x60]);
    copy(&mut same, ROM);
    same.wait(YEAR_NS).read_scratchpad(ROM, AT_12_BITS);
    copy(&mut same, ROM);
    only(&same, Topic::NeedlessCopy, Weight::Fault, Cause::Master, "EEPROM holds 4B 46");
    let report = same.report();
    assert_eq!((report.outcome, about(&report, Topic::WriteNotTaken).len()), (Outcome::Faulty, 0));
    let mut written = paint();
    write(&mut written, ROM, &[0x4B, 0x46, 0x7F]);
    copy(&mut written, ROM);
    written.wait(YEAR_NS);
    write(&mut written, ROM, &[0x4B, 0x46, 0x60]);
    copy(&mut written, ROM);
    only(&written, Topic::NeedlessCopy, Weight::Fault, Cause::Master, "EEPROM holds 4B 46 7F already");
}
