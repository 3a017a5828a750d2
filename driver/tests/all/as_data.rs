//! Plain types as data: as text for people, as bytes for machines, checked on the way in.

use crate::common::{crc, rom};
use slotwise::bus::{ParseRomError, RomCode, Roster, Target};
use slotwise::thermometer::{
    AlarmRule, Doubt, Doubts, Evidence, Reading, Scratchpad, Temperature, Thermometer, UnknownFamily,
};

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

/// A DS18B20 at +25.0625 degC, 12 bits (datasheet (7/19), Table 1 and Figure 10; TH, TL and byte 6 chosen).
fn warm() -> [u8; 9] {
    let mut bytes = [0x91, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0];
    bytes[8] = crc(&bytes[..8]);
    bytes
}

fn there_and_back<T: serde::Serialize + serde::de::DeserializeOwned>(value: &T) -> T {
    serde_json::from_str(&serde_json::to_string(value).unwrap()).unwrap()
}

#[test]
fn a_scratchpad_is_its_bytes_and_no_damaged_one_comes_in() {
    let scratchpad = Scratchpad::new(warm()).unwrap();
    let text = serde_json::to_string(&scratchpad).unwrap();
    assert_eq!(text, format!("[145,1,75,70,127,255,12,16,{}]", warm()[8]));
    assert_eq!(there_and_back(&scratchpad), scratchpad);
    for bit in 0..72 {
        let mut damaged = warm();
        damaged[bit / 8] ^= 1 << (bit % 8);
        let error = serde_json::from_str::<Scratchpad>(&serde_json::to_string(&damaged).unwrap()).unwrap_err();
        assert!(error.to_string().contains("CRC is"), "bit {bit}: {error}");
    }
    for dead in [[0; 9], [0xFF; 9]] {
        serde_json::from_str::<Scratchpad>(&serde_json::to_string(&dead).unwrap()).unwrap_err();
    }
    assert!(serde_json::from_str::<Scratchpad>("[1,2,3,4,5,6,7,8]").is_err(), "eight bytes");
}

#[test]
fn a_reading_is_the_same_there_and_back_and_its_scratchpad_is_checked() {
    let sensor = Thermometer::new(rom(0x28, [1; 6])).unwrap();
    let reading = sensor.interpret(Scratchpad::new(warm()).unwrap(), Evidence::None).unwrap();
    let text = serde_json::to_string(&reading).unwrap();
    assert!(text.starts_with("{\"temperature\":401,\"settings\":{"), "{text}");
    assert_eq!(serde_json::from_str::<Reading>(&text).unwrap(), reading);
    let damaged = text.replace("[145,1,", "[145,2,");
    assert_ne!(damaged, text);
    serde_json::from_str::<Reading>(&damaged).unwrap_err();
}

#[test]
fn a_roster_is_a_list_of_codes_and_holds_no_more_than_it_has_places() {
    let mut roster = Roster::<2>::new();
    assert_eq!(serde_json::to_string(&roster).unwrap(), "[]");
    roster.push(rom(0x28, [1; 6])).unwrap();
    roster.push(rom(0x10, [2; 6])).unwrap();
    assert_eq!(there_and_back(&roster), roster);
    let text = serde_json::to_string(&roster).unwrap();
    assert!(serde_json::from_str::<Roster<1>>(&text).is_err(), "two codes for one place");
    let damaged = text.replacen("28:01", "28:02", 1);
    assert!(serde_json::from_str::<Roster<2>>(&damaged).unwrap_err().to_string().contains("CRC is"));
}

#[test]
fn a_thermometer_is_its_rom_code_and_of_a_family_that_is_known() {
    let sensor = Thermometer::new(rom(0x28, [1; 6])).unwrap();
    assert_eq!(serde_json::to_string(&sensor).unwrap(), serde_json::to_string(&sensor.rom()).unwrap());
    assert_eq!(there_and_back(&sensor), sensor);
    let other = rom(0x26, [1; 6]);
    let error = serde_json::from_str::<Thermometer>(&serde_json::to_string(&other).unwrap()).unwrap_err();
    assert!(error.to_string().contains(&UnknownFamily(other.family()).to_string()), "{error}");
}

#[test]
fn the_other_plain_values_come_back_as_they_were() {
    assert_eq!(serde_json::to_string(&AlarmRule::InclusiveLow).unwrap(), "\"inclusive-low\"");
    assert_eq!(there_and_back(&AlarmRule::Strict), AlarmRule::Strict);
    let wrong = "28:11".parse::<RomCode>().unwrap_err();
    assert_eq!(wrong, ParseRomError::Length { digits: 4 });
    assert_eq!(there_and_back(&wrong), wrong);
}
