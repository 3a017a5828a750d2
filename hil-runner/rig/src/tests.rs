//! Rig files: what good ones become, and what is said of bad ones.

use slotwise::thermometer::{Family, Resolution, Supply};

use super::*;
use slotwise_terms::input::form::reference::{assert_documented, assert_reachable, assert_units_documented};

const GOOD: &str = r#"rig = "shed"
kind = "virtual"

[line]
supply = "3.3 V"
pull_up = "4.7 kohm"
cable = "3 m"
ambient = "20 degC"

[[sensor]]
label = "left"
rom = "28:112233445566:56"

[[sensor]]
label = "right"
rom = "28:000000000001:40"
"#;

/// What is said of the good file after one change.
#[track_caller]
fn rejects(old: &str, new: &str, messages: &[&str]) {
    assert!(GOOD.contains(old), "{old:?} is not in the file");
    let text = GOOD.replacen(old, new, 1);
    let errors = Rig::parse("shed.toml", &text).expect_err("the file is bad");
    assert_eq!(errors.to_string(), messages.join("\n"));
}

/// The hint given for the good file after one change.
#[track_caller]
fn hint(old: &str, new: &str) -> String {
    let errors = Rig::parse("shed.toml", &GOOD.replacen(old, new, 1)).expect_err("the file is bad");
    assert_eq!(errors.problems().len(), 1, "{errors}");
    errors.problems()[0].hint().expect("there is a hint").to_owned()
}

#[test]
fn the_page_describes_each_key_that_is_accepted_and_no_other() {
    const PAGE: &str = include_str!("../../guide/rig.md");
    assert_documented(PAGE, &keys::SECTIONS, &[]);
    assert_units_documented(PAGE);
    assert_reachable(&keys::TOP_SECTION, &keys::SECTIONS);
}

#[test]
fn reads_a_short_file_with_defaults() {
    let rig = Rig::parse("shed.toml", GOOD).unwrap();
    let sensor = |label: &str, rom: &str| Sensor {
        label: label.to_owned(),
        rom: rom.parse().unwrap(),
        part: Family::Ds18b20,
        supply: Supply::Local,
        correction: None,
        behaviour: Behaviour::default(),
    };
    let line = VirtualLine {
        supply_mv: 3_300,
        pull_up_ohm: Some(4_700),
        cable_mm: 3_000,
        cable_pf_per_m: 50,
        strong_pull_up_ohm: None,
        clock_mhz: 72,
        ambient_millicelsius: 20_000,
    };
    assert_eq!(
        rig,
        Rig {
            name: "shed".to_owned(),
            timing: TimingSet::ShortLine,
            inventory: vec![sensor("left", "28:112233445566:56"), sensor("right", "28:000000000001:40")],
            kind: RigKind::Virtual(line),
        }
    );
}

#[test]
fn reads_every_key() {
    let text = r#"
        rig = "attic"
        kind = "virtual"
        timing = "long line"
        [line]
        supply = "5 V"
        pull_up = "none"
        cable = "1.5 km"
        capacitance = "0.06 nF/m"
        strong_pull_up = "12 ohm"
        clock = "8 MHz"
        ambient = "-12.5 degC"
        [[sensor]]
        label = "north"
        rom = "10-A1B2C3000800-9B"
        part = "DS18S20"
        power = "parasite"
        [[sensor]]
        label = "north again"
        rom = "10D63B09A808004F"
        virtual = { connected = false, ambient = "85 degC", offset = "-0.25 K", noise = "30 mK", lag = "1.5 min",
                    conversion = "150 %" }
        [[sensor]]
        label = "south"
        rom = "22:445566000000:E2"
        [sensor.virtual]
        resolution = 9
        twin = { ambient = "17.25 degC" }
    "#;
    let rig = Rig::parse("attic.toml", text).unwrap();
    assert_eq!(rig.timing, TimingSet::LongLine);
    let RigKind::Virtual(line) = rig.kind else { panic!("a virtual rig") };
    assert_eq!((line.pull_up_ohm, line.strong_pull_up_ohm), (None, Some(12)));
    assert_eq!((line.cable_mm, line.cable_pf_per_m, line.clock_mhz), (1_500_000, 60, 8));
    assert_eq!((line.supply_mv, line.ambient_millicelsius), (5_000, -12_500));
    let [north, again, south] = rig.inventory.try_into().unwrap();
    assert_eq!((north.part, north.supply), (Family::Ds18s20, Supply::Parasite));
    assert_eq!([north.rom, again.rom].map(|rom| rom.to_string()), ["10:A1B2C3000800:9B", "10:D63B09A80800:4F"]);
    assert_eq!(
        again.behaviour,
        Behaviour {
            connected: false,
            ambient_millicelsius: Some(85_000),
            offset_millicelsius: -250,
            noise_millicelsius: 30,
            lag_ms: 90_000,
            conversion_permille: 1_500,
            resolution: Resolution::Bits12,
            twin: None,
        }
    );
    assert_eq!((south.part, south.behaviour.resolution), (Family::Ds1822, Resolution::Bits9));
    assert_eq!(south.behaviour.twin, Some(Twin { ambient_millicelsius: Some(17_250) }));
}

#[test]
fn an_empty_virtual_table_is_an_ideal_sensor() {
    let text = GOOD.replacen("56\"\n", "56\"\nvirtual = {}\n", 1);
    assert_eq!(Rig::parse("shed.toml", &text).unwrap(), Rig::parse("shed.toml", GOOD).unwrap());
}

#[test]
fn takes_windows_line_ends_and_a_byte_order_mark() {
    let text = format!("\u{FEFF}{}", GOOD.replace('\n', "\r\n"));
    assert_eq!(Rig::parse("shed.toml", &text).unwrap(), Rig::parse("shed.toml", GOOD).unwrap());
    let bad = text.replace("\"3 m\"", "\"3 V\"");
    assert_eq!(
        Rig::parse("shed.toml", &bad).unwrap_err().to_string(),
        "shed.toml:7:9: expected a length such as \"20 m\", found \"3 V\", a voltage"
    );
}

#[test]
fn every_built_in_rig_is_good() {
    for name in BUILT_IN_RIGS {
        let rig = built_in_rig(name).unwrap();
        assert_eq!(rig.name, name);
        assert_eq!(built_in_rig_text(name).map(|text| Rig::parse("copy.toml", text).unwrap()), Some(rig));
    }
    assert_eq!(built_in_rig("attic"), None);
}

#[test]
fn the_cellar_has_eight_sensors_of_four_families() {
    let rig = built_in_rig("cellar").unwrap();
    assert_eq!(rig.inventory.len(), 8);
    let of = |part| rig.inventory.iter().filter(|sensor| sensor.part == part).count();
    assert_eq!(
        [Family::Ds18b20, Family::Ds18s20, Family::Ds1822, Family::Ds28ea00, Family::Ds1825].map(of),
        [5, 1, 1, 1, 0]
    );
    assert!(rig.inventory.iter().all(|sensor| sensor.supply == Supply::Local && sensor.behaviour.connected));
}

#[test]
fn rejects_what_is_no_toml() {
    rejects("\"3.3 V\"", "3.3 V", &["shed.toml:5:10: not TOML: string values must be quoted, expected literal string"]);
    assert_eq!(hint("\"3.3 V\"", "3.3 V"), "texts and quantities stand in quotes: \"2.2 kohm\"");
    // What follows belongs to the table before, where [[sensor]] then is a second one.
    rejects(
        "[line]",
        "[line",
        &["shed.toml:4:6: not TOML: unclosed table, expected `]`", "shed.toml:14:3: not TOML: duplicate key"],
    );
    rejects("\"shed\"", "\"shed", &["shed.toml:1:12: not TOML: invalid basic string, expected `\"`"]);
    rejects("kind", "rig = \"barn\"\nkind", &["shed.toml:2:1: not TOML: duplicate key"]);
}

#[test]
fn rejects_unknown_keys_and_names_the_nearest() {
    rejects(
        "supply",
        "suply",
        &[
            "shed.toml:5:1: expected a key of [line] (supply, pull_up, cable, capacitance, strong_pull_up, clock, ambient), \
           found \"suply\"",
        ],
    );
    assert_eq!(hint("supply", "suply"), "the nearest known key is supply");
    rejects(
        "[[sensor]]",
        "[[sensors]]",
        &[
            "shed.toml:10:3: expected a key of the rig file (rig, kind, timing, serial, strong_pull_up, reference, line, bridge, sensor), found \"sensors\"",
        ],
    );
    rejects(
        "[line]",
        "colour = \"red\"\n[line]",
        &[
            "shed.toml:4:1: expected a key of the rig file (rig, kind, timing, serial, strong_pull_up, reference, line, bridge, sensor), found \"colour\"",
        ],
    );
}

#[test]
fn rejects_missing_keys() {
    rejects(
        "rig = \"shed\"\n",
        "",
        &["shed.toml:1:1: expected the key rig in the rig file, such as rig = \"a name\", found none"],
    );
    rejects(
        "pull_up = \"4.7 kohm\"\n",
        "",
        &["shed.toml:4:1: expected the key pull_up in [line], such as pull_up = \"4.7 kohm\", found none"],
    );
    rejects(
        "rom = \"28:112233445566:56\"\n",
        "",
        &["shed.toml:10:1: expected the key rom in [[sensor]], such as rom = \"28:112233445566:56\", found none"],
    );
    assert_eq!(hint("pull_up = \"4.7 kohm\"\n", ""), "Resistor between line and supply.");
}

#[test]
fn rejects_the_wrong_dimension() {
    rejects(
        "\"4.7 kohm\"",
        "\"30 m\"",
        &["shed.toml:6:11: expected a resistance such as \"4.7 kohm\", or \"none\", found \"30 m\", a length"],
    );
    rejects(
        "\"3.3 V\"",
        "\"20 degC\"",
        &["shed.toml:5:10: expected a voltage such as \"3.3 V\", found \"20 degC\", a temperature"],
    );
}

#[test]
fn rejects_bare_numbers_and_other_types() {
    rejects("\"3.3 V\"", "3.3", &["shed.toml:5:10: expected a voltage such as \"3.3 V\", found the number 3.3"]);
    assert_eq!(hint("\"3.3 V\"", "3.3"), "a quantity is a number with its unit, in quotes");
    rejects("\"3.3 V\"", "true", &["shed.toml:5:10: expected a voltage such as \"3.3 V\", found true"]);
    rejects("\"3.3 V\"", "[3.3]", &["shed.toml:5:10: expected a voltage such as \"3.3 V\", found a list"]);
    rejects("\"3.3 V\"", "{}", &["shed.toml:5:10: expected a voltage such as \"3.3 V\", found a table"]);
    rejects("\"3.3 V\"", "2026-01-01", &["shed.toml:5:10: expected a voltage such as \"3.3 V\", found a date or time"]);
    rejects(
        "\"shed\"",
        "7",
        &["shed.toml:1:7: expected a name of 1 to 60 printable characters in quotes, found the number 7"],
    );
}

#[test]
fn rejects_unknown_units() {
    rejects(
        "4.7 kohm",
        "4.7 kOm",
        &["shed.toml:6:11: expected a resistance such as \"4.7 kohm\", or \"none\", found \"4.7 kOm\", \
           whose unit \"kOm\" is unknown"],
    );
    assert_eq!(hint("4.7 kohm", "4.7 kOm"), "the nearest known unit is kohm");
}

#[test]
fn rejects_absurd_numbers() {
    rejects("3.3 V", "0 V", &["shed.toml:5:10: expected a voltage from 1 V to 6 V, found \"0 V\""]);
    rejects("3.3 V", "230 V", &["shed.toml:5:10: expected a voltage from 1 V to 6 V, found \"230 V\""]);
    rejects("3 m", "-3 m", &["shed.toml:7:9: expected a length from 0 m to 2 km, found \"-3 m\""]);
    rejects(
        "4.7 kohm",
        "1000000 Mohm",
        &["shed.toml:6:11: expected a resistance from 100 ohm to 1 Mohm, or \"none\", \
        found \"1000000 Mohm\""],
    );
    rejects(
        "4.7 kohm",
        "1e12 ohm",
        &["shed.toml:6:11: expected a resistance such as \"4.7 kohm\", or \"none\", \
           found \"1e12 ohm\", a number with an exponent"],
    );
    rejects(
        "20 degC",
        "-300 degC",
        &["shed.toml:8:11: expected a temperature from -55 degC to 125 degC, found \"-300 degC\", below absolute zero"],
    );
    rejects(
        "20 degC",
        "150 degC",
        &["shed.toml:8:11: expected a temperature from -55 degC to 125 degC, found \"150 degC\""],
    );
    rejects(
        "20 degC",
        "20.123456 degC",
        &["shed.toml:8:11: expected a temperature with at most 4 decimals, found \"20.123456 degC\", which is finer"],
    );
    rejects(
        "[line]",
        "[line]\nclock = \"32.768 kHz\"",
        &["shed.toml:5:9: expected a frequency from 1 MHz to 1000 MHz, found \"32.768 kHz\""],
    );
    rejects(
        "[line]",
        "[line]\nclock = \"8.5 MHz\"",
        &["shed.toml:5:9: expected a frequency in steps of 1 MHz, found \"8.5 MHz\""],
    );
}

#[test]
fn rejects_words_that_mean_nothing() {
    rejects(
        "\"virtual\"",
        "\"virtuel\"",
        &["shed.toml:2:8: expected \"virtual\", \"emulated\", \"bridge\" or \"serial\", found \"virtuel\""],
    );
    rejects(
        "kind",
        "timing = \"long-line\"\nkind",
        &["shed.toml:2:10: expected \"short line\" or \"long line\", found \"long-line\""],
    );
    assert_eq!(hint("kind", "timing = \"long-line\"\nkind"), "the nearest known word is \"long line\"");
}

#[test]
fn rejects_rom_codes_that_are_none() {
    rejects(
        "566:56",
        "566:57",
        &["shed.toml:12:7: expected a ROM code such as \"28:112233445566:56\", found \"28:112233445566:57\": \
           CRC is 57h where 56h belongs"],
    );
    assert_eq!(hint("566:56", "566:57"), "with the CRC that belongs there it is 28:112233445566:56");
    rejects(
        "\"28:112233445566:56\"",
        "\"28:1122\"",
        &["shed.toml:12:7: expected a ROM code such as \"28:112233445566:56\", found \"28:1122\": \
           6 hexadecimal digits where 16 belong (family, serial number, CRC in wire order)"],
    );
    rejects(
        "\"28:112233445566:56\"",
        "28",
        &["shed.toml:12:7: expected a ROM code such as \"28:112233445566:56\", found the number 28"],
    );
    rejects(
        "28:112233445566:56",
        "02:1CB801000000:A2",
        &[
            "shed.toml:12:7: expected a ROM code of a thermometer, of family 10h (DS18S20), 22h (DS1822), 28h (DS18B20), \
           3Bh (DS1825) or 42h (DS28EA00), found \"02:1CB801000000:A2\", of family 02h",
        ],
    );
}

#[test]
fn rejects_a_part_that_is_not_of_the_family() {
    rejects(
        "56\"\n",
        "56\"\npart = \"DS1822\"\n",
        &["shed.toml:13:8: expected the part of family 28h, DS18B20, found DS1822"],
    );
}

#[test]
fn rejects_equal_labels_and_equal_codes() {
    rejects("\"right\"", "\"left\"", &["shed.toml:15:9: expected each label once on a rig, found \"left\" again"]);
    rejects(
        "28:000000000001:40",
        "28:112233445566:56",
        &["shed.toml:16:7: expected each ROM code once on a line, found 28:112233445566:56 again"],
    );
    assert_eq!(
        hint("28:000000000001:40", "28:112233445566:56"),
        "two sensors with one code answer as one and cannot be distinguished"
    );
}

#[test]
fn rejects_labels_that_cannot_be_labels() {
    rejects(
        "\"right\"",
        "\"all\"",
        &["shed.toml:15:9: expected a label that has no meaning of its own, found \"all\""],
    );
    let name = "expected a name of 1 to 60 printable characters in quotes";
    rejects("\"right\"", "\"\"", &[&format!("shed.toml:15:9: {name}, found \"\"")]);
    rejects("\"right\"", "\" right\"", &[&format!("shed.toml:15:9: {name}, found \" right\"")]);
    rejects("\"right\"", "\"a\\u001Bb\"", &[&format!("shed.toml:15:9: {name}, found \"a\\u{{1b}}b\"")]);
    rejects("\"right\"", "\"a\\u202Eb\"", &[&format!("shed.toml:15:9: {name}, found \"a\\u{{202e}}b\"")]);
    rejects("\"right\"", "\"a\\uFFFEb\"", &[&format!("shed.toml:15:9: {name}, found \"a\\u{{fffe}}b\"")]);
    rejects("\"shed\"", "\"a\\U0010FFFFb\"", &[&format!("shed.toml:1:7: {name}, found \"a\\u{{10ffff}}b\"")]);
    let long = "x".repeat(61);
    rejects(
        "\"right\"",
        &format!("\"{long}\""),
        &[&format!("shed.toml:15:9: {name}, found \"{}...\", of 61 characters", "x".repeat(40))],
    );
}

#[test]
fn rejects_labels_that_read_as_rom_codes() {
    for label in ["28:112233445566:56", "28-11.22 33445566:56", "0123456789abcdef", "28:1122_3344/5566 99"] {
        let found = format!("shed.toml:15:9: expected a label that does not read as a ROM code, found \"{label}\"");
        rejects("\"right\"", &format!("\"{label}\""), &[&found]);
    }
    for label in ["0123456789abcde", "shelf 0123456789abcdef", "28 degC"] {
        let text = GOOD.replacen("\"right\"", &format!("\"{label}\""), 1);
        assert_eq!(Rig::parse("shed.toml", &text).unwrap().inventory[1].label, label);
    }
}

#[test]
fn a_key_that_allows_equal_codes_is_not_known() {
    let text = GOOD.replacen("kind", "equal_codes = \"allowed\"\nkind", 1);
    assert!(Rig::parse("shed.toml", &text).is_err());
}

#[test]
fn shows_nothing_of_a_bad_file_that_a_terminal_obeys() {
    let text = GOOD.replacen("\"3.3 V\"", "\"3.3 A\" # \u{9b}31m \u{202e}", 1);
    let errors = Rig::parse("t\u{1b}[31m.toml", &text).unwrap_err();
    let excerpt = errors.problems()[0].excerpt(100, slotwise_terms::input::DecorStyle::Unicode);
    let shown = anstream::adapter::strip_str(&excerpt).to_string();
    assert!(shown.contains("\"3.3 A\" # \u{B7}31m \u{FFFD}"), "{shown}");
    let is_harmless = |character: char| character == '\n' || !slotwise_terms::input::visible::hides(character);
    assert!(shown.chars().all(is_harmless), "{shown:?}");
}

#[test]
fn rejects_a_resolution_where_there_is_no_register() {
    rejects(
        "rom = \"28:112233445566:56\"",
        "rom = \"10:A1B2C3000800:9B\"\nvirtual = { resolution = 9 }",
        &["shed.toml:13:13: expected no resolution on a DS18S20, found 9 bits"],
    );
    rejects(
        "56\"\n",
        "56\"\nvirtual = { resolution = 13 }\n",
        &["shed.toml:13:26: expected a whole number from 9 to 12, found the number 13"],
    );
}

#[test]
fn rejects_no_sensor_and_too_many() {
    let none = GOOD.split("[[sensor]]").next().unwrap().replacen("kind", "sensor = []\nkind", 1);
    let errors = Rig::parse("shed.toml", &none).unwrap_err();
    assert_eq!(errors.to_string(), "shed.toml:2:10: expected 1 to 500 tables [[sensor]], found 0");
    let many = "[[sensor]]\n".repeat(501);
    let text = GOOD.split("[[sensor]]").next().unwrap().to_owned() + &many;
    let errors = Rig::parse("shed.toml", &text).unwrap_err();
    assert_eq!(errors.to_string(), "shed.toml:510:1: expected 1 to 500 tables [[sensor]], found 501");
    rejects(
        "[[sensor]]\nlabel = \"left\"\nrom = \"28:112233445566:56\"\n\n[[sensor]]",
        "[sensor]",
        &["shed.toml:10:1: expected 1 to 500 tables [[sensor]], found a single table"],
    );
}

#[test]
fn says_that_a_scenario_is_no_rig() {
    let errors = Rig::parse("day.toml", "scenario = \"a day\"\n[[step]]\nfind = {}\n").unwrap_err();
    assert_eq!(errors.to_string(), "day.toml:1:1: expected a rig file, with the key rig, found a scenario file");
}

#[test]
fn reports_all_problems_in_the_order_of_the_file() {
    let text = GOOD
        .replace("\"virtual\"", "\"real\"")
        .replace("3.3 V", "3.3 A")
        .replace("20 degC", "20")
        .replace("566:56", "566:00")
        .replace("\"right\"", "right = 1");
    let errors = Rig::parse("shed.toml", &text).unwrap_err();
    assert_eq!(errors.problems().len(), 1, "not TOML: nothing else is looked at\n{errors}");
    let errors = Rig::parse("shed.toml", &text.replace("right = 1", "7")).unwrap_err();
    let places: Vec<(usize, usize)> =
        errors.problems().iter().filter_map(|problem| problem.position()).map(|at| (at.line, at.column)).collect();
    assert_eq!(places, [(2, 8), (5, 10), (8, 11), (12, 7), (15, 9)]);
}

#[test]
fn counts_what_is_too_much_to_report() {
    let more: String = (0..80).map(|index| format!("k{index} = 1\n")).collect();
    let errors = Rig::parse("shed.toml", &(GOOD.to_owned() + &more)).unwrap_err();
    assert_eq!((errors.problems().len(), errors.omitted()), (50, 30));
    assert!(errors.to_string().ends_with("\nand 30 more"));
}
