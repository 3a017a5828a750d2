//! Commands that a sensor misses, conversions that were given up, and frames that are damaged: none of them passes as done.

use crate::common::{SlotLine, crc, rom};
use slotwise::bus::{Bus, RomCode, Target};
use slotwise::thermometer::{
    AlarmLimits, Conversion, Evidence, ReadError, Resolution, Round, Saved, Settings, Thermometer, Wait, convert,
};

/// Function commands (DS18B20 datasheet (7/19), Table 3).
const RECALL: u8 = 0xB8;
const COPY: u8 = 0x48;

/// What [`SlotLine`]'s EEPROM holds: TH 75, TL 70, 12 bits.
const STORED: Settings = Settings { limits: AlarmLimits { low: 70, high: 75 }, resolution: Some(Resolution::Bits12) };
const WANTED: Settings = Settings { limits: AlarmLimits { low: -5, high: 30 }, resolution: Some(Resolution::Bits9) };

fn first() -> RomCode {
    rom(0x28, [1; 6])
}

fn bus() -> (Bus<SlotLine>, Thermometer) {
    let mut line = SlotLine::of([first(), rom(0x28, [2; 6])]);
    line.sensors.iter_mut().for_each(|sensor| sensor.busy_slots = 9);
    (Bus::new(line), Thermometer::new(first()).unwrap())
}

#[test]
fn a_sensor_that_is_started_after_the_wait_gets_no_receipt() {
    let (mut bus, sensor) = bus();
    let round = Round::begin(&mut bus);
    let copy = round;
    let _ = round.start(&mut bus, rom(0x28, [2; 6])).unwrap();
    let over = round.wait(&mut bus, 750_000).unwrap();
    // Its conversion has only just begun.
    if let Ok(late) = copy.start(&mut bus, first()) {
        assert_eq!(sensor.read(&mut bus, &over.receipt(late)), Err(ReadError::OtherReceipt));
    }
}

#[test]
fn busy_of_a_conversion_that_was_given_up_shows_no_new_one() {
    let (mut bus, _) = bus();
    let one = Target::One(first());
    let _ = Conversion::start(&mut bus, one, Wait::PollAndTime, 750_000).unwrap();
    let second = Conversion::start(&mut bus, one, Wait::PollAndTime, 750_000).unwrap();
    assert_eq!(second.wait(&mut bus).unwrap().receipt.evidence(), Evidence::Waited);
    let third = convert(&mut bus, one, Wait::PollAndTime, 750_000).unwrap();
    assert_eq!(third.receipt.evidence(), Evidence::SeenBusy, "the second was waited for");
}

#[test]
fn a_conversion_that_was_given_up_is_waited_out_before_a_round_a_conversion_and_a_proof() {
    let one = Target::One(first());
    for way in 0..3 {
        let (mut bus, sensor) = bus();
        let _ = Conversion::start(&mut bus, one, Wait::PollAndTime, 93_750).unwrap();
        let evidence = match way {
            0 => {
                let round = Round::begin(&mut bus);
                let waited_us = bus.line().waited_us;
                assert!(waited_us >= 750_000, "before the first sensor is started: {waited_us}");
                let started = round.start(&mut bus, first()).unwrap();
                round.wait(&mut bus, 93_750).unwrap().receipt(started).evidence()
            }
            1 => convert(&mut bus, one, Wait::PollAndTime, 93_750).unwrap().receipt.evidence(),
            _ => sensor.convert_proven(&mut bus, Wait::PollAndTime, 93_750).unwrap().evidence,
        };
        assert!(evidence == Evidence::SeenBusy || way == 2, "{way}: {evidence:?}");
        let waited_us = bus.line().waited_us;
        assert!(waited_us >= 750_000 + 93_750, "{way}: {waited_us}");
    }
}

#[test]
fn a_conversion_is_superseded_by_each_way_of_waiting() {
    let (mut bus, _) = bus();
    let one = Target::One(first());
    let old = Conversion::start(&mut bus, one, Wait::PollAndTime, 750_000).unwrap();
    let _ = Conversion::start(&mut bus, one, Wait::PollAndTime, 750_000).unwrap();
    assert_eq!(old.wait(&mut bus), Err(slotwise::thermometer::ConvertError::Superseded));
}

#[test]
fn a_missed_recall_is_not_taken_for_settings_that_are_saved_already() {
    let (mut bus, sensor) = bus();
    sensor.write(&mut bus, WANTED).unwrap();
    bus.line().sensors[0].misses = vec![RECALL; 9];
    let saved = sensor.save(&mut bus);
    assert_eq!(
        saved.unwrap_err().to_string(),
        "the sensor did not carry out Recall: it still holds what was written before"
    );
    assert_eq!(sensor.settings(&mut bus), Ok(WANTED), "as before");
    assert_ne!(bus.line().sensors[0].eeprom[0], 30);
}

#[test]
fn one_missed_recall_is_repeated() {
    let (mut bus, sensor) = bus();
    sensor.write(&mut bus, WANTED).unwrap();
    bus.line().sensors[0].misses = vec![RECALL];
    assert_eq!(sensor.recall(&mut bus), Ok(STORED));
}

#[test]
fn an_eeprom_that_holds_the_mark_itself_is_recalled() {
    let (mut bus, sensor) = bus();
    let held = Settings { limits: AlarmLimits { low: i8::MIN, high: i8::MAX }, ..WANTED };
    sensor.write(&mut bus, held).unwrap();
    assert_eq!(sensor.save(&mut bus), Ok(Saved::Written));
    sensor.write(&mut bus, WANTED).unwrap();
    assert_eq!(sensor.recall(&mut bus), Ok(held));
    assert_eq!(sensor.save(&mut bus), Ok(Saved::Unchanged));
}

#[test]
fn a_missed_copy_is_not_saved() {
    let (mut bus, sensor) = bus();
    sensor.write(&mut bus, WANTED).unwrap();
    bus.line().sensors[0].misses = vec![COPY];
    assert_eq!(sensor.save(&mut bus), Err(slotwise::Error::NotSaved { wrote: WANTED, found: STORED }));
    sensor.write(&mut bus, WANTED).unwrap();
    assert_eq!(sensor.save(&mut bus), Ok(Saved::Written));
    assert_eq!(bus.line().sensors[0].eeprom, [30, 0xFB, 0x1F]);
}

/// Two bits in the temperature and those of the check byte that belong to them: a damaged frame with a right CRC.
fn hidden() -> Vec<u32> {
    let (zeros, mut flipped) = ([0; 8], [0; 8]);
    flipped[0] = 0b0001_0000;
    let difference = crc(&zeros) ^ crc(&flipped);
    std::iter::once(4).chain((0..8).filter(|bit| difference >> bit & 1 == 1).map(|bit| 64 + bit)).collect()
}

/// The last two reads before the settings are written back are those of the proof.
#[test]
fn a_proof_reads_its_scratchpad_twice() {
    let reads = {
        let (mut bus, sensor) = bus();
        bus.line().sensors[0].flips = vec![vec![]; 100];
        sensor.convert_proven(&mut bus, Wait::PollAndTime, 750_000).unwrap();
        100 - bus.line().sensors[0].flips.len()
    };
    let mut errors = Vec::new();
    // Each read once with a damage that the CRC does not see, but for those of settings that are compared with what was written.
    for damaged in 0..reads {
        let (mut bus, sensor) = bus();
        bus.line().sensors[0].scratchpad[0] = 0x90;
        bus.line().sensors[0].scratchpad[1] = 0x01;
        let mut flips = vec![vec![]; damaged];
        flips.push(hidden());
        let right = {
            let sound = bus.line().sensors[0].scratchpad;
            i16::from_le_bytes([sound[0], sound[1]])
        };
        let sensors = &mut bus.line().sensors;
        let bytes = &mut sensors[0].scratchpad;
        bytes[8] = crc(&bytes[..8]);
        sensors[0].flips = flips;
        match sensor.convert_proven(&mut bus, Wait::PollAndTime, 750_000) {
            Ok(reading) => assert_eq!(reading.temperature.sixteenths(), right, "read {damaged}"),
            Err(error) => errors.push(error.to_string()),
        }
        bus.line().sensors[0].flips.clear();
        assert_eq!(sensor.settings(&mut bus), Ok(STORED), "read {damaged}");
    }
    assert!(errors.iter().any(|error| error == "two reads of the scratchpad differ"), "{errors:?}");
}

#[test]
fn one_flipped_bit_does_not_end_a_proof() {
    let mut proven = 0;
    for damaged in 0..12 {
        let (mut bus, sensor) = bus();
        let mut flips = vec![vec![]; damaged];
        flips.push(vec![3]);
        bus.line().sensors[0].flips = flips;
        match sensor.convert_proven(&mut bus, Wait::PollAndTime, 750_000) {
            Ok(reading) => {
                assert_eq!(reading.evidence, Evidence::Proven);
                proven += usize::from(bus.line().sensors[0].flips.is_empty());
            }
            // Reads that verify what was written are reported as elsewhere.
            Err(error) => assert_eq!(error.kind(), slotwise::ErrorKind::Damaged, "read {damaged}: {error}"),
        }
    }
    assert_eq!(proven, 4, "two reads of the settings before, two of the result");
}
