//! Plain types as data: as text for people, as bytes for machines, checked on the way in.
#![cfg(feature = "serde")]
#![allow(clippy::unwrap_used)] // helpers of tests

mod common;

use common::rom;
use slotwise::bus::{RomCode, Target};
use slotwise::thermometer::{Doubt, Doubts, Evidence, Temperature};

#[test]
fn a_rom_code_is_its_text_and_is_checked() {
    let code = rom(0x28, [0x11, 0x22, 0x33, 0x44, 0x55, 0x66]);
    let text = serde_json::to_string(&code).unwrap();
    // CRC of this code: a computed row of the golden tables.
    assert_eq!(text, "\"28:112233445566:56\"");
    assert_eq!(serde_json::from_str::<RomCode>(&text).unwrap(), code);
    let error = serde_json::from_str::<RomCode>("\"28:112233445566:57\"").unwrap_err().to_string();
    assert!(error.contains("CRC is 57h where 56h belongs"), "{error}");
    assert!(serde_json::from_str::<RomCode>("17").unwrap_err().to_string().contains("a ROM code such as"));
    assert_eq!(
        serde_json::from_str::<Target>(&serde_json::to_string(&Target::One(code)).unwrap()).unwrap(),
        Target::One(code)
    );
}

#[test]
fn readings_are_counts_and_names() {
    assert_eq!(serde_json::to_string(&Temperature::from_sixteenths(-8)).unwrap(), "-8");
    assert_eq!(serde_json::to_string(&Evidence::SeenBusy).unwrap(), "\"seen-busy\"");
    assert_eq!(serde_json::to_string(&Doubt::PowerOnValue).unwrap(), "\"power-on-value\"");
    let mut doubts = Doubts::NONE;
    doubts.insert(Doubt::OutOfRange);
    let text = serde_json::to_string(&doubts).unwrap();
    assert_eq!(serde_json::from_str::<Doubts>(&text).unwrap(), doubts);
}

#[test]
fn bits_that_stand_for_no_doubt_are_refused() {
    let mut all = Doubts::NONE;
    for doubt in Doubt::ALL {
        all.insert(doubt);
    }
    for bits in 0..=u8::MAX {
        let read = serde_json::from_str::<Doubts>(&bits.to_string());
        // The lowest bits are in use, one for each doubt.
        if u32::from(bits) < 1 << Doubt::ALL.len() {
            assert_eq!(serde_json::to_string(&read.unwrap()).unwrap(), bits.to_string());
        } else {
            let error = read.unwrap_err().to_string();
            assert!(error.contains("a set of known doubts"), "{error}");
        }
    }
    assert_eq!(all.iter().count(), Doubt::ALL.len());
}
