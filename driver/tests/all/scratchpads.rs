//! Temperatures and scratchpads: printing, decoding, encoding. Published rows are checked in the workspace's own tests.

use crate::common::{crc, rom};
use proptest::prelude::*;
use slotwise::thermometer::{
    AlarmLimits, DecodeError, Doubt, Evidence, Family, FrameError, Resolution, Scratchpad, Settings, Temperature,
    Thermometer,
};

const FAMILIES: [Family; 5] = [Family::Ds18s20, Family::Ds1822, Family::Ds18b20, Family::Ds1825, Family::Ds28ea00];

/// The power-on image of a DS18B20 (datasheet (7/19), Figure 9; TH, TL and byte 6 chosen).
const TEMPLATE: [u8; 8] = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10];

fn scratchpad(bytes: [u8; 8]) -> Scratchpad {
    let mut all = [0; 9];
    all[..8].copy_from_slice(&bytes);
    all[8] = crc(&bytes);
    Scratchpad::new(all).unwrap()
}

fn with(position: usize, byte: u8) -> [u8; 8] {
    let mut bytes = TEMPLATE;
    bytes[position] = byte;
    bytes
}

#[test]
fn temperatures_print_exactly_or_as_asked() {
    let t = Temperature::from_sixteenths;
    assert_eq!(t(401).to_string(), "25.0625");
    assert_eq!(t(-8).to_string(), "-0.5");
    assert_eq!(t(0).to_string(), "0");
    assert_eq!(t(1360).to_string(), "85");
    assert_eq!(t(-880).to_string(), "-55");
    assert_eq!(format!("{:.2}", t(401)), "25.06");
    assert_eq!(format!("{:.2}", t(-1)), "-0.06");
    assert_eq!(format!("{:.1}", t(-1)), "-0.1");
    assert_eq!(format!("{:.0}", t(-1)), "0");
    assert_eq!(format!("{:.0}", t(-8)), "-1");
    assert_eq!(format!("{:.4}", t(8)), "0.5000");
    assert_eq!(format!("{:.6}", t(401)), "25.062500");
    assert_eq!(format!("{:.30}", t(-8)), "-0.500000000000000000000000000000");
    assert_eq!(format!("{:>9.2}|{:<8}|{:+}", t(-162), t(8), t(8)), "   -10.13|0.5     |+0.5");
    assert_eq!(t(i16::MIN).to_string(), "-2048");
}

#[test]
fn dead_lines_are_named_before_the_crc() {
    assert_eq!(Scratchpad::new([0; 9]), Err(FrameError::AllZeros));
    assert_eq!(Scratchpad::new([0xFF; 9]), Err(FrameError::NoAnswer));
    for bytes in [[0; 9], [0xFF; 9], [1, 2, 3, 4, 5, 6, 7, 8, 9]] {
        assert_eq!(Scratchpad::new(bytes).unwrap_err().bytes(), bytes, "as they came");
    }
}

#[test]
fn impossible_configurations_are_errors() {
    for byte in 0..=0xFF_u8 {
        let decoded = scratchpad(with(4, byte)).decode(Family::Ds18b20);
        // DS18B20 datasheet (7/19), Figure 10: 0 R1 R0 1 1 1 1 1.
        if [0x1F, 0x3F, 0x5F, 0x7F].contains(&byte) {
            assert!(decoded.is_ok());
        } else {
            assert_eq!(decoded, Err(DecodeError::ImpossibleConfiguration { byte }));
        }
    }
    assert!(scratchpad(with(4, 0x73)).decode(Family::Ds1825).is_ok(), "address pins");
    assert!(scratchpad(with(4, 0xF3)).decode(Family::Ds1825).is_err());
    assert!(scratchpad(with(4, 0x7F)).decode(Family::Ds18s20).is_err(), "no configuration register");
}

#[test]
fn address_pins_are_the_low_half_of_a_configuration_that_a_ds1825_can_have() {
    for byte in 0..=0xFF_u8 {
        let read = scratchpad(with(4, byte));
        // 0 R1 R0 1 AD3 AD2 AD1 AD0 (from memory; DS1825 datasheet, p. 8, Figure 7 shows the pins).
        let expected = (byte & 0x90 == 0x10).then_some(byte & 0x0F);
        assert_eq!(read.address_pins(Family::Ds1825), expected, "{byte:02X}");
        for family in FAMILIES.into_iter().filter(|family| *family != Family::Ds1825) {
            assert_eq!(read.address_pins(family), None);
        }
    }
}

#[test]
fn disagreeing_sign_bits_are_errors() {
    for high in 0..=0xFF_u8 {
        let decoded = scratchpad(with(1, high)).decode(Family::Ds18b20);
        assert_eq!(decoded.is_ok(), high <= 0x07 || high >= 0xF8, "{high:02X}");
    }
    let mut bytes = TEMPLATE;
    bytes[..5].copy_from_slice(&[0xAA, 0x01, 0x4B, 0x46, 0xFF]);
    assert_eq!(scratchpad(bytes).decode(Family::Ds18s20), Err(DecodeError::SignBits { raw: 0x01AA }));
}

#[test]
fn impossible_counters_are_errors() {
    let image = |remain, per_c| scratchpad([0xAA, 0, 0x4B, 0x46, 0xFF, 0xFF, remain, per_c]).decode(Family::Ds18s20);
    assert_eq!(image(0x0C, 0x10).unwrap().temperature.to_string(), "85");
    assert!(image(0x10, 0x10).is_ok());
    assert_eq!(image(0x11, 0x10), Err(DecodeError::ImpossibleCounters { remain: 0x11, per_c: 0x10 }));
    assert_eq!(image(0x00, 0x00), Err(DecodeError::ImpossibleCounters { remain: 0, per_c: 0 }));
}

#[test]
fn each_doubt_arises_from_its_cause_alone() {
    let doubts = |bytes, family: Family| scratchpad(bytes).decode(family).unwrap().doubts.iter().collect::<Vec<_>>();
    let warm = with(0, 0x51);
    assert_eq!(doubts(warm, Family::Ds18b20), []);
    assert_eq!(doubts([0x51, 0x05, 0x4B, 0x46, 0x1F, 0xFF, 0x0C, 0x10], Family::Ds18b20), [Doubt::UndefinedBits]);
    assert_eq!(doubts([0x51, 0x05, 0x4B, 0x46, 0x7F, 0xFE, 0x0C, 0x10], Family::Ds18b20), [Doubt::ReservedBytes]);
    assert_eq!(doubts([0x51, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x11], Family::Ds18b20), [Doubt::ReservedBytes]);
    assert_eq!(doubts([0xD1, 0x07, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10], Family::Ds18b20), [Doubt::OutOfRange]);
    assert_eq!(doubts(warm, Family::Ds28ea00), [Doubt::OutOfRange], "85.0625 is over 85");
    assert_eq!(doubts(warm, Family::Ds1825), [Doubt::SharedFamily]);
}

#[test]
fn the_power_on_value_is_doubted_unless_it_is_proven_that_there_was_no_reset() {
    let sensor = Thermometer::new(rom(0x28, [1; 6])).unwrap();
    let doubts =
        |bytes, evidence| sensor.interpret(scratchpad(bytes), evidence).unwrap().doubts.iter().collect::<Vec<_>>();
    assert_eq!(doubts(TEMPLATE, Evidence::Proven), []);
    assert_eq!(doubts(TEMPLATE, Evidence::SeenBusy), [Doubt::PowerOnValue], "a reset looks like the end");
    assert_eq!(doubts(TEMPLATE, Evidence::Waited), [Doubt::PowerOnValue]);
    assert_eq!(doubts(TEMPLATE, Evidence::None), [Doubt::PowerOnValue, Doubt::NoConversion]);
    assert_eq!(doubts(with(0, 0x51), Evidence::Waited), []);
    assert_eq!(doubts(with(0, 0x51), Evidence::None), [Doubt::NoConversion]);
}

fn settings() -> impl Strategy<Value = Settings> {
    (any::<(i8, i8)>(), 0usize..4).prop_map(|((low, high), index)| Settings {
        limits: AlarmLimits { low, high },
        resolution: Some(Resolution::ALL[index]),
    })
}

/// Holds each way of laying out a temperature against that of a float.
#[track_caller]
fn assert_laid_out_as_a_float(sixteenths: i16, places: usize, width: usize) {
    let (t, f) = (Temperature::from_sixteenths(sixteenths), f64::from(sixteenths) / 16.0);
    assert_eq!(format!("{t:.places$}"), format!("{f:.places$}"));
    assert_eq!(format!("{t:width$.places$}"), format!("{f:width$.places$}"));
    assert_eq!(format!("{t:<width$.places$}"), format!("{f:<width$.places$}"));
    assert_eq!(format!("{t:*^width$.places$}"), format!("{f:*^width$.places$}"));
    assert_eq!(format!("{t:_>+width$.places$}"), format!("{f:_>+width$.places$}"));
    assert_eq!(format!("{t:0width$.places$}"), format!("{f:0width$.places$}"));
    assert_eq!(format!("{t:<+0width$.places$}"), format!("{f:<+0width$.places$}"));
    assert_eq!(format!("{t:+width$}"), format!("{f:+width$}"));
}

proptest! {
    /// The standard library's floats are the reference: they hold every sixteenth exactly. They differ where a number lies
    /// half-way between two, which floats round to even, and in the sign of a zero.
    #[test]
    fn temperatures_are_laid_out_as_floats_are(sixteenths: i16, places in 0_usize..12, width in 0_usize..24) {
        let cut = 10_i32.pow(4 - places.min(4) as u32);
        let rest = i32::from(sixteenths) * 625 % cut;
        prop_assume!(cut == 1 || rest.abs() * 2 != cut);
        prop_assume!(sixteenths >= 0 || i32::from(sixteenths) * -625 * 2 > cut);
        assert_laid_out_as_a_float(sixteenths, places, width);
    }

    #[test]
    fn half_way_is_rounded_away_from_zero(whole in 0_i16..2047) {
        let half = |sixteenths| format!("{:.0}", Temperature::from_sixteenths(sixteenths));
        prop_assert_eq!(half(whole * 16 + 8), (whole + 1).to_string());
        prop_assert_eq!(half(-whole * 16 - 8), (-whole - 1).to_string());
    }

    #[test]
    fn what_is_encoded_decodes_the_same(sixteenths in -880i16..=2000, settings in settings(), family in 0usize..5) {
        let family = FAMILIES[family];
        let settings = Settings { resolution: settings.resolution.filter(|_| family.has_resolution()), ..settings };
        let encoded = Scratchpad::encode(family, Temperature::from_sixteenths(sixteenths), settings);
        let checked = Scratchpad::new(*encoded.bytes()).unwrap();
        let decoded = checked.decode(family).unwrap();
        let step = settings.resolution.map_or(1, Resolution::step_sixteenths);
        prop_assert_eq!(decoded.temperature.sixteenths(), sixteenths.div_euclid(step) * step);
        prop_assert_eq!(decoded.settings, settings);
    }

    #[test]
    fn no_bytes_make_a_decoder_panic(bytes: [u8; 8]) {
        for family in FAMILIES {
            if let Ok(decoded) = scratchpad(bytes).decode(family) {
                let range = -128 * 16..128 * 16;
                prop_assert!(range.contains(&decoded.temperature.sixteenths()), "eleven bits and a sign");
            }
        }
    }

    #[test]
    fn a_cut_or_damaged_frame_is_never_a_number(bytes: [u8; 9], keep in 0usize..9) {
        prop_assume!(crc(&bytes[..8]) != bytes[8]);
        prop_assert!(Scratchpad::new(bytes).is_err());
        // A line that goes dead in mid-frame reads ones from there on.
        let mut good = *scratchpad(TEMPLATE).bytes();
        good[keep..].fill(0xFF);
        prop_assert!(Scratchpad::new(good).is_err());
    }

    #[test]
    fn alarm_rules_differ_only_on_the_limits(whole in -55i16..=125, low: i8, high: i8) {
        use slotwise::thermometer::AlarmRule::{Inclusive, InclusiveLow, Strict};
        let limits = AlarmLimits { low, high };
        if whole != i16::from(low) && whole != i16::from(high) {
            prop_assert_eq!(limits.are_met_by(whole, Inclusive), limits.are_met_by(whole, Strict));
            prop_assert_eq!(limits.are_met_by(whole, Inclusive), limits.are_met_by(whole, InclusiveLow));
        }
    }

    #[test]
    fn any_temperature_can_be_encoded_and_stays_what_it_is_or_the_nearest_there_is(sixteenths: i16, family in 0usize..5) {
        let family = FAMILIES[family];
        let settings = Settings {
            limits: AlarmLimits { low: 0, high: 30 },
            resolution: family.has_resolution().then_some(Resolution::Bits12),
        };
        let decoded = Scratchpad::encode(family, Temperature::from_sixteenths(sixteenths), settings).decode(family).unwrap();
        prop_assert_eq!(decoded.temperature.sixteenths(), sixteenths.clamp(-2048, 2043));
    }
}

#[test]
fn a_ds18s20_compares_its_register_and_not_its_refined_value_with_the_limits() {
    // 0032h is 25.0 degC; COUNT REMAIN 13 refines it to 24.9375 (DS18S20 datasheet, Alarm: bits 8 to 1 are compared).
    let refined = scratchpad([0x32, 0, 0x4B, 0x46, 0xFF, 0xFF, 13, 16]);
    assert_eq!(refined.decode(Family::Ds18s20).unwrap().temperature.to_string(), "24.9375");
    assert_eq!(refined.whole_degrees(Family::Ds18s20), 25);
    // -0.5 degC compares as -1 (computed).
    assert_eq!(scratchpad([0xF8, 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 8, 16]).whole_degrees(Family::Ds18b20), -1);
}
