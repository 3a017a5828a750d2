//! Every row of the golden tables against the driver. The virtual sensors are checked against the same rows in their own
//! crate.

#[path = "../../../driver/tests/all/common/mod.rs"]
mod slots;

use slotwise::bus::{Bus, RomCode, RomError, SearchScope, crc8};
use slotwise::thermometer::{
    AlarmLimits, AlarmRule, Family, FrameError, Resolution, Scratchpad, Settings, Temperature,
};
use slotwise_golden::{Conversions, Row, table};

/// The first eight bytes of a scratchpad with this temperature register and configuration byte; the rest as in the datasheets'
/// memory maps.
fn image(raw: u16, configuration: u8) -> [u8; 8] {
    let [low, high] = raw.to_le_bytes();
    [low, high, 0x4B, 0x46, configuration, 0xFF, 0x0C, 0x10]
}

/// The driver's own CRC over eight bytes, as its complaint about a wrong one shows it.
fn with_crc(bytes: [u8; 8]) -> Scratchpad {
    let mut all = [0; 9];
    all[..8].copy_from_slice(&bytes);
    all[8] = match Scratchpad::new(all) {
        Ok(_) => 0,
        Err(FrameError::Crc { computed, .. }) => computed,
        Err(other) => panic!("{other}"),
    };
    Scratchpad::new(all).unwrap()
}

fn ten_thousandths(temperature: Temperature) -> i32 {
    i32::from(temperature.sixteenths()) * 625
}

fn decodes_to(scratchpad: Scratchpad, family: Family, row: &Row) {
    let decoded = scratchpad.decode(family).unwrap();
    assert_eq!(ten_thousandths(decoded.temperature), row.ten_thousandths().unwrap(), "{row:?}");
    assert_eq!(decoded.temperature.to_string(), row.expects, "prints as published");
}

fn configuration(bits: u8) -> u8 {
    // DS18B20 datasheet (7/19), Figure 10 and Table 2.
    match bits {
        9 => 0x1F,
        10 => 0x3F,
        11 => 0x5F,
        _ => 0x7F,
    }
}

fn residue_accepts(row: &Row) -> bool {
    row.expects_byte().unwrap() == 0
}

/// Checks one row. `false`: the row is about something the driver does not do.
fn check(row: &Row) -> bool {
    let name = row.table.as_str();
    match name {
        table::DS18B20_RAW16_12BIT => {
            decodes_to(with_crc(image(row.given_raw16().unwrap(), 0x7F)), Family::Ds18b20, row);
        }
        table::DS18B20_SCRATCH9_TEMP => {
            let bytes: [u8; 9] = row.given_bytes().unwrap().try_into().unwrap();
            decodes_to(Scratchpad::new(bytes).unwrap(), Family::Ds18b20, row);
            // The same bytes come out of encoding, but for undefined low bits and for byte 6, which has no published value.
            let decoded = Scratchpad::new(bytes).unwrap().decode(Family::Ds18b20).unwrap();
            let encoded = Scratchpad::encode(Family::Ds18b20, decoded.temperature, decoded.settings);
            assert_eq!(encoded.bytes()[1..6], bytes[1..6], "{row:?}");
            assert_eq!(encoded.decode(Family::Ds18b20).unwrap().temperature, decoded.temperature, "{row:?}");
        }
        table::DS18S20_RAW16_9BIT => {
            // COUNT_REMAIN that makes the refined value equal the half-degree reading: 12 for whole degrees, 4 for halves.
            let raw = row.given_raw16().unwrap();
            let mut bytes = image(raw, 0xFF);
            bytes[6] = if raw & 1 == 0 { 12 } else { 4 };
            decodes_to(with_crc(bytes), Family::Ds18s20, row);
        }
        table::DS18S20_SCRATCH8_EXTENDED => {
            let bytes: [u8; 8] = row.given_bytes().unwrap().try_into().unwrap();
            decodes_to(with_crc(bytes), Family::Ds18s20, row);
            let settings = Settings { limits: AlarmLimits { low: 0x46, high: 0x4B }, resolution: None };
            let sixteenths = i16::try_from(row.ten_thousandths().unwrap() / 625).unwrap();
            let encoded = Scratchpad::encode(Family::Ds18s20, Temperature::from_sixteenths(sixteenths), settings);
            assert_eq!(encoded.decode(Family::Ds18s20).unwrap().temperature.sixteenths(), sixteenths);
        }
        table::ROM7_CRC8 => {
            let mut bytes = row.given_bytes().unwrap();
            bytes.push(row.expects_byte().unwrap());
            assert!(RomCode::new(bytes.try_into().unwrap()).is_ok(), "{row:?}");
        }
        table::ROM8_RESIDUE => {
            let bytes: [u8; 8] = row.given_bytes().unwrap().try_into().unwrap();
            match RomCode::new(bytes) {
                Ok(_) => assert!(residue_accepts(row), "{row:?}"),
                // Passes the CRC and is refused all the same.
                Err(RomError::AllZeros) => assert_eq!(bytes, [0; 8]),
                Err(_) => assert!(!residue_accepts(row), "{row:?}"),
            }
            assert_eq!(crc8(&bytes), row.expects_byte().unwrap(), "{row:?}");
        }
        table::SCRATCH8_CRC8 => {
            let bytes: [u8; 8] = row.given_bytes().unwrap().try_into().unwrap();
            assert_eq!(with_crc(bytes).bytes()[8], row.expects_byte().unwrap(), "{row:?}");
        }
        table::SCRATCH9_RESIDUE => {
            let bytes: [u8; 9] = row.given_bytes().unwrap().try_into().unwrap();
            match Scratchpad::new(bytes) {
                Ok(_) => assert!(residue_accepts(row), "{row:?}"),
                Err(FrameError::AllZeros) => assert_eq!(bytes, [0; 9]),
                Err(_) => assert!(!residue_accepts(row), "{row:?}"),
            }
            assert_eq!(crc8(&bytes), row.expects_byte().unwrap(), "{row:?}");
        }
        table::CRC8_CHECK => {
            assert_eq!(crc8(&row.given_bytes().unwrap()), row.expects_byte().unwrap(), "{row:?}");
        }
        table::DS18B20_CONFIG_RESOLUTION | table::DS18B20_CONFIG_TCONV_MAX => {
            let byte = row.given_bytes().unwrap()[0];
            let resolution = with_crc(image(0, byte)).decode(Family::Ds18b20).unwrap().settings.resolution.unwrap();
            let expected = row.ten_thousandths().unwrap();
            if name == table::DS18B20_CONFIG_RESOLUTION {
                assert_eq!(i32::from(resolution.bits()) * 10_000, expected, "{row:?}");
            } else {
                // Milliseconds in ten thousandths: tenths of a microsecond.
                assert_eq!(Family::Ds18b20.conversion_max_us(resolution) * 10, expected.cast_unsigned(), "{row:?}");
            }
        }
        table::ALARM_GE_LE | table::ALARM_GT_LT => {
            let (raw, high, low) = row.given_alarm().unwrap();
            let rule = if name == table::ALARM_GE_LE { AlarmRule::Inclusive } else { AlarmRule::Strict };
            let whole = with_crc(image(raw, 0x7F)).whole_degrees(Family::Ds18b20);
            assert_eq!(AlarmLimits { low, high }.are_met_by(whole, rule), row.expects_flag().unwrap(), "{row:?}");
        }
        _ => {
            if let Some((bits, _)) = table::DS18B20_RAW16_MASKED.iter().find(|(_, table)| *table == name) {
                let raw = row.given_raw16().unwrap();
                decodes_to(with_crc(image(raw, configuration(*bits))), Family::Ds18b20, row);
            } else if let Some(index) = table::SEARCH_ORDER.iter().position(|table| *table == name) {
                let roms = row.given_roms().unwrap().into_iter().map(|bytes| RomCode::new(bytes).unwrap());
                let mut bus = Bus::new(slots::SlotLine::of(roms));
                let found = bus.search(SearchScope::All).nth(index).unwrap().unwrap();
                assert_eq!(found.bytes()[..], row.expects_bytes().unwrap()[..], "{row:?}");
            } else {
                return false;
            }
        }
    }
    true
}

#[test]
fn the_driver_agrees_with_every_row_that_is_about_it() {
    let conversions = Conversions::embedded().unwrap();
    let unchecked: Vec<&Row> = conversions.all().iter().filter(|row| !check(row)).collect();
    // A serial port as bus master is not part of the driver; these rows are checked against the virtual sensors.
    for row in &unchecked {
        assert!(row.table.starts_with("uart"), "no test checks {row:?}");
    }
    assert_eq!((conversions.all().len(), unchecked.len()), (134, 16));
}

#[test]
fn resolutions_number_four() {
    assert_eq!(Resolution::ALL.map(Resolution::bits), [9, 10, 11, 12]);
    assert_eq!(Resolution::from_bits(8), None);
    assert_eq!(Resolution::from_bits(13), None);
}
