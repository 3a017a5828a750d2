//! Files of rigs on serial adapters: what good ones become, and what is said of bad ones.

use super::*;

const GOOD: &str = r#"rig = "desk"
kind = "serial"
serial = "/dev/ttyUSB0"

[[sensor]]
label = "left"
rom = "28:112233445566:56"
"#;

fn serial(more: &str) -> SerialRig {
    let text = GOOD.replacen("\n[[sensor]]", &format!("{more}\n\n[[sensor]]"), 1);
    let rig = Rig::parse("desk.toml", &text).unwrap();
    let RigKind::Serial(serial) = rig.kind else { panic!("a serial adapter") };
    serial
}

#[track_caller]
fn rejects(old: &str, new: &str, message: &str) {
    assert!(GOOD.contains(old), "{old:?} is not in the file");
    let errors = Rig::parse("desk.toml", &GOOD.replacen(old, new, 1)).expect_err("the file is bad");
    assert_eq!(errors.to_string(), message);
}

#[test]
fn a_short_file_is_a_port_with_nothing_else_wired() {
    assert_eq!(
        serial(""),
        SerialRig { port: "/dev/ttyUSB0".into(), strong_pull_up: None, reference: ReferenceSource::None }
    );
}

#[test]
fn a_modem_line_and_a_reference_can_be_named() {
    let rts = serial("strong_pull_up = \"rts\"\nreference = \"operator\"");
    assert_eq!((rts.strong_pull_up, rts.reference), (Some(ModemLine::Rts), ReferenceSource::Operator));
    let dtr = serial("strong_pull_up = \"dtr\"\nreference = \"21.4 degC\"");
    assert_eq!((dtr.strong_pull_up, dtr.reference), (Some(ModemLine::Dtr), ReferenceSource::Millicelsius(21_400)));
}

#[test]
fn a_port_is_needed_and_has_a_name() {
    let port = "serial = \"/dev/ttyUSB0\"";
    rejects(
        port,
        "",
        "desk.toml:1:1: expected the key serial in the rig file, such as serial = \"a name\", found none",
    );
    rejects(
        port,
        "serial = \"\"",
        "desk.toml:3:10: expected a name of 1 to 200 printable characters in quotes, found \"\"",
    );
    rejects(
        port,
        "serial = 3",
        "desk.toml:3:10: expected a name of 1 to 200 printable characters in quotes, found the number 3",
    );
    rejects(
        port,
        "serial = \"/dev/ttyUSB0\"\nstrong_pull_up = true",
        "desk.toml:4:18: expected \"rts\" or \"dtr\", found true",
    );
}

#[test]
fn a_serial_adapter_has_no_chip_no_line_and_no_timing_set() {
    rejects(
        "\n[[sensor]]",
        "\n[bridge]\nchip = \"STM32F103C8\"\n[[sensor]]",
        "desk.toml:5:2: expected no [bridge] on a rig of this kind, found one",
    );
    rejects(
        "kind =",
        "chip = \"STM32F103C8\"\nkind =",
        "desk.toml:2:1: expected a key of the rig file (rig, kind, timing, serial, strong_pull_up, reference, line, bridge, \
         sensor), found \"chip\"",
    );
    rejects(
        "kind =",
        "timing = \"long line\"\nkind =",
        "desk.toml:2:1: expected no timing set on a serial adapter, found one",
    );
    rejects(
        "label =",
        "virtual = { noise = \"1 K\" }\nlabel =",
        "desk.toml:6:1: expected no [sensor.virtual] on a real line, found one",
    );
}

#[test]
fn other_rigs_have_no_serial_adapter() {
    for (key, value) in [("serial", "/dev/ttyUSB0"), ("strong_pull_up", "rts"), ("reference", "none")] {
        let text = built_in_rig_text("twins").unwrap().replacen("kind =", &format!("{key} = \"{value}\"\nkind ="), 1);
        let errors = Rig::parse("twins.toml", &text).expect_err("it is a virtual rig").to_string();
        assert!(errors.contains(&format!("expected no {key} here on a rig of this kind, found one")), "{errors}");
    }
}

#[test]
fn the_template_beside_the_rigs_is_a_good_file_in_all_its_variants() {
    let text = include_str!("../../../fixtures/rigs/serial.toml");
    let rig = Rig::parse("serial.toml", text).unwrap();
    assert!(matches!(rig.kind, RigKind::Serial(_)) && rig.inventory.len() == 3);
    let all = text.replace("# strong_pull_up", "strong_pull_up");
    assert_ne!(all, text);
    let RigKind::Serial(serial) = Rig::parse("serial.toml", &all).unwrap().kind else { panic!("a serial adapter") };
    assert_eq!(serial.strong_pull_up, Some(ModemLine::Rts));
}
