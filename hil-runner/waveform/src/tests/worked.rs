//! The command sequences that the datasheet prints, decoded back.

use crate::Outcome;
use crate::decode::{Addressing, Bytes, Phase, SearchEnd, Transaction};
use crate::paint::{Paint, STANDARD};

const ROM: [u8; 8] = [0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8D];
const OTHER: [u8; 8] = [0x28, 0xEE, 0x87, 0x54, 0x25, 0x16, 0x02, 0x33];
/// 24.125 degC, as it was read off a real line.
const SCRATCHPAD: [u8; 9] = [0x82, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0xE1];

/// Commands and data, without times.
fn said(transaction: &Transaction) -> Vec<String> {
    transaction
        .phases
        .iter()
        .map(|phase| match phase {
            Phase::RomCommand { code, .. } => format!("rom {code:02X}"),
            Phase::Function { code, addressing: Addressing::RomCommand, .. } => format!("function {code:02X}"),
            Phase::Function { code, addressing, .. } => format!("function {code:02X} {addressing:?}"),
            Phase::RomWritten { bytes } | Phase::Written { bytes, .. } => format!("written {bytes}"),
            Phase::RomAnswered { bytes } | Phase::Answered { bytes, .. } => format!("answered {bytes}"),
            Phase::Search { triplets, end } => format!("search {} {end:?}", triplets.len()),
            Phase::Foreign { bytes, .. } => format!("foreign {bytes}"),
            Phase::Polled { zeros, ones, .. } => format!("polled {zeros} {ones}"),
            Phase::ReadOn { bytes } => format!("ones {bytes}"),
        })
        .collect()
}

/// DS18B20 datasheet (7/19), DS18B20 Operation Example 1: several on the line, parasite power; the strong pull-up is not seen on the
/// line, only that nothing happens.
#[test]
fn operation_example_1_is_decoded_and_sound() {
    let mut paint = Paint::new(STANDARD);
    paint.reset().write(&[0x55]).write(&ROM).write(&[0x44]).wait(750_000_000);
    paint.reset().write(&[0x55]).write(&ROM).write(&[0xBE]).read(&SCRATCHPAD);
    let all: Vec<_> = paint.transactions().iter().map(said).collect();
    let rom = format!("written {}", Bytes(ROM.to_vec()));
    assert_eq!(all[0], ["rom 55", &rom, "function 44"]);
    assert_eq!(all[1], ["rom 55", &rom, "function BE", "answered 82 01 4B 46 7F FF 0C 10 E1"]);
    assert_eq!(paint.report().outcome, Outcome::Sound, "{:?}", paint.report().findings);
}

/// Operation Example 2 of the same: one on the line.
#[test]
fn operation_example_2_is_decoded_and_sound() {
    let mut paint = Paint::new(STANDARD);
    paint.reset().write(&[0xCC, 0x4E, 0x4B, 0x46, 0x7F]);
    paint.reset().write(&[0xCC, 0xBE]).read(&SCRATCHPAD);
    paint.reset().write(&[0xCC, 0x48]).wait(10_000_000);
    let all: Vec<_> = paint.transactions().iter().map(said).collect();
    assert_eq!(all[0], ["rom CC", "function 4E", "written 4B 46 7F"]);
    assert_eq!(all[1], ["rom CC", "function BE", "answered 82 01 4B 46 7F FF 0C 10 E1"]);
    assert_eq!(all[2], ["rom CC", "function 48"]);
    assert_eq!(paint.report().outcome, Outcome::Sound, "{:?}", paint.report().findings);
}

/// Application Note 187 finds sensors one bit at a time: id bit, complement bit, direction. Two real ROM codes, which part at bit 8 + 8
/// (94h against 87h: bit 0).
#[test]
fn search_passes_give_the_rom_codes_and_their_conflicts() {
    let mut paint = Paint::new(STANDARD);
    paint.search(ROM, &[OTHER]).search(OTHER, &[ROM]);
    for (transaction, rom) in paint.transactions().iter().zip([ROM, OTHER]) {
        let Phase::Search { triplets, end: SearchEnd::Whole } = &transaction.phases[1] else {
            panic!("{transaction:?}")
        };
        let conflicts: Vec<usize> =
            triplets.iter().enumerate().filter(|(_, t)| !t.bit && !t.complement).map(|(place, _)| place).collect();
        assert_eq!(conflicts, [16], "94h and 87h differ in their lowest bit");
        let written: Vec<bool> = triplets.iter().map(|triplet| triplet.written.unwrap()).collect();
        let bits: Vec<bool> = (0..64).map(|place| rom[place / 8] >> (place % 8) & 1 == 1).collect();
        assert_eq!(written, bits);
    }
    let found: Vec<_> =
        paint.report().sensors.iter().map(|sensor| (sensor.rom.clone().unwrap(), sensor.found)).collect();
    assert_eq!(found, [("28:EE8754251602:33".to_owned(), 1), ("28:EE94F7271601:8D".to_owned(), 1)]);
}

#[test]
fn read_rom_power_supply_and_polling_are_decoded() {
    let mut paint = Paint::new(STANDARD);
    paint.reset().write(&[0x33]).read(&ROM);
    paint.reset().write(&[0xCC, 0xB4]).read_bit(true);
    paint.reset().write(&[0xCC, 0x44]).read_bit(false).read_bit(false).read_bit(true);
    paint.reset().write(&[0xCC, 0xB8]).read_bit(true);
    let all: Vec<_> = paint.transactions().iter().map(said).collect();
    assert_eq!(all[0], ["rom 33", &format!("answered {}", Bytes(ROM.to_vec()))]);
    assert_eq!(all[1], ["rom CC", "function B4", "polled 0 1"]);
    assert_eq!(all[2], ["rom CC", "function 44", "polled 2 1"]);
    assert_eq!(all[3], ["rom CC", "function B8", "polled 0 1"]);
    assert_eq!(paint.report().sensors[0].is_parasite, Some(false));
}

/// A new command where a sensor is polled begins with a 0 that is longer than any sensor holds one.
#[test]
fn a_command_after_polling_without_a_reset_is_seen() {
    let mut paint = Paint::new(STANDARD);
    paint.reset().write(&[0xCC, 0x44]).read_bit(false).read_bit(true).write(&[0xBE]).read(&[0xFF; 9]);
    assert_eq!(
        said(&paint.transactions()[0]),
        ["rom CC", "function 44", "polled 1 1", "function BE Function", "answered FF FF FF FF FF FF FF FF FF"]
    );
}

/// DS18S20 datasheet, Memory: Write Scratchpad takes two bytes. So a byte after them is not part of it.
#[test]
fn the_ds18s20_takes_two_bytes() {
    const PART: [u8; 8] = [0x10, 0xD6, 0x3B, 0x09, 0xA8, 0x08, 0x00, 0x4F];
    let mut paint = Paint::new(STANDARD);
    paint.reset().write(&[0x55]).write(&PART).write(&[0x4E, 0x20, 0x10]).write(&[0x48]);
    let said = said(&paint.transactions()[0]);
    assert_eq!(said[2..], ["function 4E", "written 20 10", "function 48 Function"]);
}
