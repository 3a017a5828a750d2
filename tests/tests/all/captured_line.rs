//! The real driver over a real captured line: two family-28h sensors and a master that never noticed that its write did not
//! take. The facts are in `fixtures/golden`, from the people who captured it and from an independent decoder.

use crate::replay::{Deviation, ReplayLine};
use slotwise::Error;
use slotwise::bus::{Bus, RomCode, SearchError, SearchScope, Target};
use slotwise::line::{Line, LineError};
use slotwise::thermometer::{AlarmLimits, Doubt, Evidence, Receipt, Resolution, Settings, Thermometer};
use slotwise_golden::{Transaction, Transcript};

const FIRST: [u8; 8] = [0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8D];
const SECOND: [u8; 8] = [0x28, 0xEE, 0x87, 0x54, 0x25, 0x16, 0x02, 0x33];

/// What the captured master meant to write: 4B 46 1F, that is TH 75, TL 70, 9 bits.
const WANTED: Settings =
    Settings { limits: AlarmLimits { high: 0x4B, low: 0x46 }, resolution: Some(Resolution::Bits9) };

fn transactions() -> Vec<Transaction> {
    Transcript::embedded().unwrap().transactions
}

fn bus_over(indices: &[usize]) -> Bus<ReplayLine> {
    let all = transactions();
    Bus::new(ReplayLine::of(indices.iter().map(|index| &all[*index])))
}

fn sensor(rom: [u8; 8]) -> Thermometer {
    Thermometer::new(RomCode::new(rom).unwrap()).unwrap()
}

#[test]
fn the_search_finds_those_two_rom_codes() {
    // Both times the master searched: passes 0 and 1, and 2 and 4.
    for passes in [[0, 1], [2, 4]] {
        let mut bus = bus_over(&passes);
        let found: Result<Vec<_>, _> = bus.search(SearchScope::All).collect();
        let found: Vec<_> = found.unwrap().iter().map(|rom| *rom.bytes()).collect();
        assert_eq!(found, [FIRST, SECOND]);
        assert_eq!(bus.release().finish(), [0, 0], "every slot of the real line was used");
    }
}

#[test]
fn the_scratchpads_read_24_125_and_24_0625_degrees() {
    for (rom, before, after, celsius) in [(FIRST, 3, 7, "24.125"), (SECOND, 5, 8, "24.0625")] {
        let mut bus = bus_over(&[before, after]);
        let old = sensor(rom).read(&mut bus, &Receipt::NONE).unwrap();
        assert_eq!(old.temperature.to_string(), celsius);
        assert!(old.doubts.contains(Doubt::NoConversion), "no sensor had converted");
        let scratchpad = sensor(rom).read_scratchpad(&mut bus).unwrap();
        let new = sensor(rom).interpret(scratchpad, Evidence::Waited).unwrap();
        assert_eq!(new.temperature.to_string(), celsius);
        assert!(new.is_trusted());
        assert_eq!(new.settings.resolution, Some(Resolution::Bits12));
        // The write without a reset of its own: five bytes that no transaction of this driver contains.
        assert_eq!(bus.release().finish(), [5 * 8, 0]);
    }
}

#[test]
fn the_resolution_write_of_the_transcript_is_reported_as_not_taken() {
    for (rom, write, later) in [(FIRST, 3, 7), (SECOND, 5, 8)] {
        let mut bus = bus_over(&[write, later]);
        // What was on the wire, byte by byte, with the function command that follows no reset.
        bus.select(Target::One(sensor(rom).rom())).unwrap();
        bus.line().write_byte(0xBE).unwrap();
        bus.line().read(&mut [0; 9]).unwrap();
        bus.line().write(&[0x4E, 0x4B, 0x46, 0x1F, 0x48]).unwrap();
        let verdict = sensor(rom).verify(&mut bus, WANTED);
        let found = Settings { resolution: Some(Resolution::Bits12), ..WANTED };
        assert_eq!(verdict, Err(Error::NotTaken { wrote: WANTED, found }));
        assert_eq!(bus.release().finish(), [0, 0]);
    }
}

#[test]
fn the_conversion_commands_are_those_of_the_driver() {
    for index in [6, 9] {
        let mut bus = bus_over(&[index]);
        bus.select(Target::All).unwrap();
        bus.line().write_byte(0x44).unwrap();
        assert_eq!(bus.release().finish(), [0]);
    }
}

#[test]
fn a_damaged_answer_is_no_number() {
    // Every single flipped bit of the real answer is caught.
    for bit in 0..72 {
        let mut all = transactions();
        let slotwise_golden::Traffic::Answered(bytes) = &mut all[7].traffic[1] else { panic!("an answer") };
        bytes.0[bit / 8] ^= 1 << (bit % 8);
        let mut bus = Bus::new(ReplayLine::of([&all[7]]));
        assert!(sensor(FIRST).read(&mut bus, &Receipt::NONE).is_err(), "bit {bit}");
    }
}

#[test]
fn a_driver_that_leaves_the_transcript_is_caught() {
    let mut bus = bus_over(&[3]);
    let wrong = sensor(SECOND).read(&mut bus, &Receipt::NONE);
    assert!(format!("{wrong:?}").contains("Wrote"), "{wrong:?}");
    let mut bus = bus_over(&[0]);
    let found: Vec<_> = bus.search(SearchScope::All).collect();
    assert_eq!(found[1], Err(SearchError::Line(LineError::Master(Deviation::NoSuchReset))));
}
