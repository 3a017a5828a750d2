//! Files of real rigs and of emulated ones: what good ones become, and what is said of bad ones.

use super::*;

const GOOD: &str = r#"rig = "bench two"
kind = "bridge"

[bridge]
chip = "STM32F103C8"

[[sensor]]
label = "left"
rom = "28:112233445566:56"
"#;

fn bridge(more: &str) -> BridgeRig {
    let text = GOOD.replacen("[[sensor]]", &format!("{more}\n[[sensor]]"), 1);
    let rig = Rig::parse("bench.toml", &text).unwrap();
    let RigKind::Bridge(bridge) = rig.kind else { panic!("a bridge") };
    bridge
}

#[track_caller]
fn rejects(old: &str, new: &str, message: &str) {
    assert!(GOOD.contains(old), "{old:?} is not in the file");
    let errors = Rig::parse("bench.toml", &GOOD.replacen(old, new, 1)).expect_err("the file is bad");
    assert_eq!(errors.to_string(), message);
}

#[test]
fn a_short_file_is_a_bridge_on_the_only_debug_probe_with_nothing_else_wired() {
    assert_eq!(
        bridge(""),
        BridgeRig {
            chip: "STM32F103C8".into(),
            carrier: RigCarrier::Memory { debug_probe: None, wire_khz: None },
            image: None,
            strong_pull_up: false,
            supply_switch: false,
            short_switch: false,
            reference: ReferenceSource::None,
        }
    );
}

#[test]
fn everything_that_is_wired_can_be_named() {
    let all = bridge(
        "debug_probe = \"1209:0001:A4F0\"\nwire = \"400 kHz\"\nimage = \"own.elf\"\nstrong_pull_up = true\nsupply_switch = true\n\
         short_switch = true\nreference = \"21.4 degC\"",
    );
    let carrier = RigCarrier::Memory { debug_probe: Some("1209:0001:A4F0".into()), wire_khz: Some(400) };
    assert_eq!((all.carrier, all.image), (carrier, Some("own.elf".into())));
    assert!(all.strong_pull_up && all.supply_switch && all.short_switch);
    assert_eq!(all.reference, ReferenceSource::Millicelsius(21_400));
}

#[test]
fn a_serial_bridge_has_a_port() {
    let serial = bridge("carrier = \"serial\"\nport = \"/dev/ttyACM0\"\nreference = \"operator\"");
    assert_eq!(serial.carrier, RigCarrier::Serial { port: "/dev/ttyACM0".into() });
    assert_eq!(serial.reference, ReferenceSource::Operator);
    rejects(
        "chip = ",
        "carrier = \"serial\"\nchip = ",
        "bench.toml:4:1: expected the key port, for carrier = \"serial\", found none",
    );
    rejects(
        "chip = ",
        "port = \"/dev/ttyACM0\"\nchip = ",
        "bench.toml:5:1: expected no port where frames travel through the memory of the chip, found one",
    );
}

#[test]
fn a_debug_probe_is_named_by_its_numbers() {
    for bad in ["the blue one", "1209", "1209:", "12345:1", "1209-0001"] {
        rejects(
            "chip = ",
            &format!("debug_probe = \"{bad}\"\nchip = "),
            &format!(
                "bench.toml:5:15: expected a debug probe as VID:PID or VID:PID:SERIAL, in hexadecimal, found \"{bad}\""
            ),
        );
    }
}

#[test]
fn a_reference_is_a_temperature_none_or_the_operator() {
    rejects(
        "chip = ",
        "reference = \"warm\"\nchip = ",
        "bench.toml:5:13: expected a temperature such as \"12.5 degC\", \"none\" or \"operator\", found \"warm\", \
         which does not begin with a number",
    );
}

#[test]
fn nothing_is_invented_about_a_real_line() {
    rejects(
        "[bridge]",
        "[line]\nsupply = \"3.3 V\"\npull_up = \"4.7 kohm\"\ncable = \"3 m\"\nambient = \"20 degC\"\n[bridge]",
        "bench.toml:4:2: expected no [line] on a rig of this kind, found one",
    );
    rejects(
        "rom = \"28:112233445566:56\"",
        "rom = \"28:112233445566:56\"\n[sensor.virtual]\nlag = \"1 s\"",
        "bench.toml:10:9: expected no [sensor.virtual] on a real line, found one",
    );
}

#[test]
fn an_emulated_chip_has_two_clocks() {
    let emulated = |clock: &str| {
        Rig::parse(
            "emu.toml",
            &format!(
                "rig = \"emu\"\nkind = \"emulated\"\n[line]\nsupply = \"3.3 V\"\npull_up = \"4.7 kohm\"\ncable = \"3 m\"\n\
                 ambient = \"20 degC\"\nclock = \"{clock}\"\n[[sensor]]\nlabel = \"left\"\nrom = \"28:112233445566:56\"\n"
            ),
        )
    };
    for clock in ["8 MHz", "72 MHz"] {
        assert!(matches!(emulated(clock).unwrap().kind, RigKind::Emulated(_)));
    }
    assert_eq!(
        emulated("48 MHz").unwrap_err().to_string(),
        "emu.toml:8:9: expected 72 MHz or 8 MHz on an emulated chip, found 48 MHz"
    );
}

#[test]
fn the_template_beside_the_rigs_is_a_good_file_in_all_its_variants() {
    let text = include_str!("../../../fixtures/rigs/bench.toml");
    let rig = Rig::parse("bench.toml", text).unwrap();
    assert!(matches!(rig.kind, RigKind::Bridge(BridgeRig { carrier: RigCarrier::Memory { .. }, .. })));
    let uncommented = text.replace("# carrier", "carrier").replace("# port", "port");
    let rig = Rig::parse("bench.toml", &uncommented).unwrap();
    assert!(matches!(rig.kind, RigKind::Bridge(BridgeRig { carrier: RigCarrier::Serial { .. }, .. })));
}

#[test]
fn an_image_is_looked_for_beside_the_rig_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bench.toml");
    std::fs::write(&path, GOOD.replacen("[[sensor]]", "image = \"own.elf\"\n[[sensor]]", 1)).unwrap();
    let RigKind::Bridge(bridge) = Rig::load(&path).unwrap().kind else { panic!("a bridge") };
    assert_eq!(bridge.image, Some(folder.path().join("own.elf")));
}

#[test]
fn nothing_is_flashed_through_a_serial_port() {
    for key in ["debug_probe = \"1209:0001\"", "wire = \"1 MHz\"", "image = \"own.elf\""] {
        let name = key.split(' ').next().unwrap();
        rejects(
            "chip = ",
            &format!("carrier = \"serial\"\nport = \"/dev/ttyACM0\"\n{key}\nchip = "),
            &format!("bench.toml:7:1: expected no {name} where frames travel by a serial port, found one"),
        );
    }
}
