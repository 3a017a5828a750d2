//! What the driver makes of painted captures.

use slotwise::bus::{Bus, RomCode, SearchScope, Target};
use slotwise::line::{Line, LineError};
use slotwise::thermometer::{Conversion, Evidence, Receipt, Thermometer, Wait};

use super::{Deviation, Played, Player, ReplayLine, ReplayReport, Standing};
use crate::paint::{Paint, STANDARD};

const ROM: [u8; 8] = [0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8D];
const OTHER: [u8; 8] = [0x28, 0xEE, 0x87, 0x54, 0x25, 0x16, 0x02, 0x33];
/// 0191h is +25.0625 degC, FFF8h is -0.5 degC (DS18B20 datasheet (7/19), Table 1). CRCs computed.
const WARM: [u8; 9] = [0x91, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0F, 0x10, 0x25];
const COLD: [u8; 9] = [0xF8, 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x08, 0x10, 0xF8];

fn play(paint: &Paint) -> (Vec<Played>, ReplayReport) {
    let mut player = Player::new().unwrap();
    let mut all: Vec<Played> = paint.transactions().iter().flat_map(|transaction| player.take(transaction)).collect();
    let (last, report) = player.finish();
    all.extend(last);
    (all, report)
}

#[test]
fn the_driver_reads_what_the_tables_say() {
    let mut paint = Paint::new(STANDARD);
    paint.read_scratchpad(ROM, WARM).read_scratchpad(OTHER, COLD);
    let (played, report) = play(&paint);
    assert_eq!((report.readings, report.different), (2, 0));
    assert_eq!(played[0].driver, "25.0625 degC");
    assert!(played[0].captured.contains("Table 1"), "{played:?}");
    assert_eq!(played[1].driver, "-0.5 degC");
}

#[test]
fn the_driver_refuses_what_is_no_number() {
    let mut wrong = WARM;
    wrong[0] ^= 4;
    for answer in [wrong, [0xFF; 9], [0; 9]] {
        let mut paint = Paint::new(STANDARD);
        paint.read_scratchpad(ROM, answer);
        let (played, report) = play(&paint);
        assert_eq!((report.readings, report.different), (1, 0), "{played:?}");
        assert!(played[0].driver.starts_with("no number"), "{played:?}");
    }
}

/// Another sensor is there from the second search on; 94h and 12h part at a bit that is 0 in both others.
#[test]
fn a_search_after_a_sensor_was_plugged_in_is_another_search() {
    let mut paint = Paint::new(STANDARD);
    paint.search(ROM, &[]).search(ROM, &[OTHER]).search(OTHER, &[ROM]).search(OTHER, &[]);
    let (played, report) = play(&paint);
    assert_eq!((report.searches, report.different, report.not_played), (3, 0, 0), "{played:?}");
}

#[test]
fn a_pass_for_one_sensor_alone_and_what_is_cut_short_are_not_played_and_counted() {
    let mut paint = Paint::new(STANDARD);
    // The way to this one takes a 1 where there is a 0, with no pass before it.
    paint.search(OTHER, &[ROM]);
    let mut short = Paint { now: paint.now, changes: Vec::new(), ..paint.clone() };
    short.reset().write(&[0x55]).write(&ROM).write(&[0xBE]).read(&WARM[..5]).reset();
    paint.now = short.now;
    paint.changes.extend(short.changes);
    let (played, report) = play(&paint);
    assert_eq!((played.len(), report.different, report.not_played), (0, 0, 2), "{played:?}");
}

#[test]
fn the_driver_searches_as_the_captured_master_did() {
    let mut paint = Paint::new(STANDARD);
    // Twice over, the second time with a reading in between: 94h and 87h part at a bit that is 0 in the first.
    paint.search(ROM, &[OTHER]).search(OTHER, &[ROM]);
    paint.search(ROM, &[OTHER]).read_scratchpad(ROM, WARM).search(OTHER, &[ROM]);
    let (played, report) = play(&paint);
    assert_eq!((report.searches, report.readings, report.different), (2, 1, 0), "{played:?}");
    let searches: Vec<&str> =
        played.iter().filter(|played| played.what == "search").map(|played| played.driver.as_str()).collect();
    assert_eq!(searches, ["28:EE94F7271601:8D, 28:EE8754251602:33"; 2]);
}

#[test]
fn a_search_that_goes_another_way_is_different() {
    // The only sensor differs from ROM in the bits of two bytes, but the master writes what ROM has: no sensor takes part from there on.
    let mut there = ROM;
    there[3] ^= 0x10;
    let bit = |rom: &[u8; 8], place: usize| rom[place / 8] >> (place % 8) & 1 == 1;
    let mut paint = Paint::new(STANDARD);
    paint.reset().write(&[0xF0]);
    for place in 0..64 {
        paint.read_bit(bit(&there, place)).read_bit(!bit(&there, place)).write_bit(bit(&ROM, place));
    }
    let (played, report) = play(&paint);
    assert_eq!((report.searches, report.different), (1, 1));
    assert_eq!(played[0].standing, Standing::Different);
    assert!(played[0].driver.contains("captured master wrote the other"), "{played:?}");
}

/// Each takes a 1 where there is a 0 too, and no pass before it took that 0.
#[test]
fn searches_in_another_order_than_the_drivers_are_not_played() {
    let mut third = OTHER;
    third[4] |= 0x80;
    assert_ne!(third, OTHER);
    third[7] = crc::Crc::<u8>::new(&crc::CRC_8_MAXIM_DOW).checksum(&third[..7]);
    let mut paint = Paint::new(STANDARD);
    paint.search(ROM, &[OTHER, third]).search(third, &[ROM, OTHER]).search(OTHER, &[ROM, third]);
    let (_, report) = play(&paint);
    assert_eq!((report.searches, report.different, report.not_played), (1, 0, 2));
}

#[test]
fn a_search_that_was_not_captured_to_its_end_is_as_far_as_it_goes_the_same() {
    let mut paint = Paint::new(STANDARD);
    paint.search(ROM, &[OTHER]);
    let (played, report) = play(&paint);
    assert_eq!(report.different, 0);
    assert!(played[0].driver.ends_with("would go on"), "{played:?}");
}

#[test]
fn a_conversion_and_a_reading_make_a_regression_test() {
    let mut paint = Paint::new(STANDARD);
    paint.convert(ROM);
    // The driver sees that the sensor is busy by five slots, and that it is done by three.
    for is_done in [false, false, false, false, false, true, true, true] {
        paint.read_bit(is_done);
    }
    paint.read_scratchpad(ROM, WARM);
    let mut bus = Bus::new(ReplayLine::of(&paint.transactions()));
    let sensor = Thermometer::new(RomCode::new(ROM).unwrap()).unwrap();
    let target = Target::One(sensor.rom());
    let converted = Conversion::start(&mut bus, target, Wait::Poll, 750_000).unwrap().wait(&mut bus).unwrap();
    let reading = sensor.read(&mut bus, &converted.receipt).unwrap();
    assert_eq!(reading.temperature.to_string(), "25.0625");
    assert_eq!(reading.evidence, Evidence::Polled);
    assert_eq!(bus.release().left(), 0);
}

#[test]
fn whoever_leaves_the_capture_is_caught() {
    let mut paint = Paint::new(STANDARD);
    paint.read_scratchpad(ROM, WARM);
    let line = || ReplayLine::of(&paint.transactions());
    let mut bus = Bus::new(line());
    assert_eq!(bus.line().slot(true), Err(LineError::Master(Deviation::NoSuchSlot { transaction: 0 })));
    bus.reset().unwrap();
    let wrong = Deviation::Wrote { transaction: 1, slot: 1, bit: true };
    assert_eq!(bus.line().write_byte(0xF3), Err(LineError::Master(wrong)));
    let mut bus = Bus::new(line());
    let sensor = Thermometer::new(RomCode::new(ROM).unwrap()).unwrap();
    sensor.read(&mut bus, &Receipt::NONE).unwrap();
    assert_eq!(bus.line().slot(true), Err(LineError::Master(Deviation::NoSuchSlot { transaction: 1 })));
    assert!(bus.search(SearchScope::All).next().unwrap().is_err());
}
