//! Rig files before and after corrections and labels were put in.

use slotwise::bus::RomCode;
use slotwise::thermometer::Supply;

use super::Correction;
use super::edit::{Change, EditError, edited};

const HEAD: &str = "# The shed.\nrig = \"shed\"\nkind   = \"virtual\" # not real\n\n[line]\nsupply = \"3.3 V\"\n\
                    pull_up = '4.7 kohm'\ncable = \"3 m\"\nambient = \"20 degC\"\n\n";
const LEFT: &str = "28:112233445566:56";
const RIGHT: &str = "28:000000000001:40";

fn correction(millicelsius: i32) -> Correction {
    Correction { millicelsius, at: Some("ice point".into()), on: Some("2026-11-25".into()) }
}

fn code(rom: &str) -> RomCode {
    rom.parse().expect("a code")
}

fn edit(text: &str, corrections: &[(&str, i32)]) -> Result<String, EditError> {
    let corrections: Vec<_> =
        corrections.iter().map(|(rom, by)| Change::Correction(code(rom), correction(*by))).collect();
    edited(text, &corrections)
}

/// The lines that are put in, below the head of a file.
#[track_caller]
fn becomes(sensors: &str, corrections: &[(&str, i32)], expected: &str) {
    for (head, ending) in
        [(HEAD.to_owned(), "\n"), (HEAD.replace('\n', "\r\n"), "\r\n"), (format!("\u{FEFF}{HEAD}"), "\n")]
    {
        let (sensors, expected) = (sensors.replace('\n', ending), expected.replace('\n', ending));
        assert_eq!(edit(&format!("{head}{sensors}"), corrections).unwrap(), format!("{head}{expected}"));
    }
}

const LINES: &str = "correction = \"-0.080 degC\"\ncorrected_at = \"ice point\"\ncorrected_on = \"2026-11-25\"\n";

#[test]
fn lines_are_put_below_the_rom_code_and_nothing_else_moves() {
    becomes(
        &format!(
            "[[sensor]]\nrom = \"{LEFT}\" # on the left\n# its label\nlabel = \"left\"\n[sensor.virtual]\noffset = \"0.08 degC\"\n\n\
             [[sensor]] # the other\n  label=\"right\"\n  rom = \"{RIGHT}\"\n\n# the end\n"
        ),
        &[(LEFT, -80), (RIGHT, 1_250)],
        &format!(
            "[[sensor]]\nrom = \"{LEFT}\" # on the left\n{LINES}# its label\nlabel = \"left\"\n[sensor.virtual]\noffset = \"0.08 degC\"\n\n\
             [[sensor]] # the other\n  label=\"right\"\n  rom = \"{RIGHT}\"\n  correction = \"1.250 degC\"\n  \
             corrected_at = \"ice point\"\n  corrected_on = \"2026-11-25\"\n\n# the end\n"
        ),
    );
}

#[test]
fn a_last_line_without_an_end_gets_none() {
    becomes(
        &format!("[[sensor]]\nlabel = \"left\"\nrom = \"{LEFT}\""),
        &[(LEFT, -80)],
        &format!("[[sensor]]\nlabel = \"left\"\nrom = \"{LEFT}\"\n{}", LINES.trim_end()),
    );
}

#[test]
fn what_stood_there_is_replaced_where_it_stands() {
    becomes(
        &format!(
            "[[sensor]]\ncorrected_on = \"2020-01-01\" # long ago\ncorrection = '0.5 K' # too much\nlabel = \"left\"\nrom = \"{LEFT}\"\n"
        ),
        &[(LEFT, -80)],
        &format!(
            "[[sensor]]\ncorrected_on = \"2026-11-25\" # long ago\ncorrection = \"-0.080 degC\" # too much\n\
             corrected_at = \"ice point\"\nlabel = \"left\"\nrom = \"{LEFT}\"\n"
        ),
    );
}

#[test]
fn tables_in_braces_stay_in_braces() {
    let head = HEAD.replacen(
        "[line]",
        "line = { ambient = \"20 degC\", supply = \"3.3 V\", pull_up = \"4.7 kohm\", cable = \"3 m\" }\n",
        1,
    );
    let head = head.split("supply = \"3.3 V\"\n").next().unwrap();
    let sensors = |first: &str, second: &str| {
        format!(
            "{head}sensor = [ {{ rom = \"{LEFT}\"{first}, label = \"left\" }},\n  # and\n  {{label=\"right\",rom=\"{RIGHT}\"{second}}}, ]\n"
        )
    };
    let put = ", correction = \"-0.080 degC\", corrected_at = \"ice point\", corrected_on = \"2026-11-25\"";
    assert_eq!(edit(&sensors("", ""), &[(LEFT, -80)]).unwrap(), sensors(put, ""));
    assert_eq!(edit(&sensors(put, ""), &[(RIGHT, -80)]).unwrap(), sensors(put, put));
}

#[test]
fn the_same_again_changes_nothing() {
    let text = format!("{HEAD}[[sensor]]\nlabel = \"left\"\nrom = \"{LEFT}\"\n");
    let once = edit(&text, &[(LEFT, -80)]).unwrap();
    assert_eq!(edit(&once, &[(LEFT, -80)]).unwrap(), once);
}

#[test]
fn strangers_and_other_files_are_refused() {
    let text = format!("{HEAD}[[sensor]]\nlabel = \"left\"\nrom = \"{LEFT}\"\n");
    assert!(matches!(edit(&text, &[(RIGHT, 0)]), Err(EditError::NoSensor(_))));
    assert!(matches!(edit("rig = \"shed\"\n", &[]), Err(EditError::Rig(_))));
}

#[test]
fn every_built_in_rig_takes_corrections_and_keeps_all_its_lines() {
    for name in crate::BUILT_IN_RIGS {
        let text = crate::built_in_rig_text(name).unwrap();
        let rig = crate::built_in_rig(name).unwrap();
        let corrections: Vec<_> =
            rig.inventory.iter().map(|sensor| Change::Correction(sensor.rom, correction(-80))).collect();
        let edited = edited(text, &corrections).unwrap();
        let kept: Vec<&str> = edited.lines().filter(|line| !line.starts_with("correct")).collect();
        assert_eq!(kept, text.lines().collect::<Vec<_>>(), "{name}");
    }
}

fn label(rom: &str, label: &str) -> Change {
    Change::Label(code(rom), label.into())
}

fn sensor(rom: &str, label: &str, supply: Supply) -> Change {
    Change::Sensor { rom: code(rom), label: label.into(), supply }
}

/// The file after these changes, with either line end, with and without a byte order mark.
#[track_caller]
fn turns_into(before: &str, changes: &[Change], expected: &str) {
    for (mark, ending) in [("", "\n"), ("", "\r\n"), ("\u{FEFF}", "\n")] {
        let (before, expected) = (before.replace('\n', ending), expected.replace('\n', ending));
        assert_eq!(edited(&format!("{mark}{before}"), changes).unwrap(), format!("{mark}{expected}"));
    }
}

#[test]
fn a_label_changes_where_it_stands_and_nothing_else_moves() {
    let sensors = |left: &str, right: &str| {
        format!(
            "{HEAD}[[sensor]] # which one?\n\trom = \"{LEFT}\"\n\n  label   =   {left}  # to be found out\n\n\n[sensor.virtual]\n\
             lag = \"20 s\"\n[[ sensor ]]\nlabel={right}\nrom = '{RIGHT}'\n# the end"
        )
    };
    turns_into(
        &sensors("'sensor 1'", "\"sensor 2\""),
        &[label(LEFT, "brine bath"), label(RIGHT, "say \"door\"")],
        &sensors("\"brine bath\"", "'say \"door\"'"),
    );
}

#[test]
fn labels_may_change_places() {
    let sensors = |left: &str, right: &str| {
        format!("{HEAD}sensor = [{{rom=\"{LEFT}\",label={left}}}, {{ label = {right}, rom=\"{RIGHT}\" }}]\n")
    };
    let head = |text: String| {
        let line = "line = { ambient = \"20 degC\", supply = \"3.3 V\", pull_up = \"4.7 kohm\", cable = \"3 m\" }\n";
        let (top, _) = text.split_once("[line]").unwrap();
        format!("{top}{line}{}", &text[text.find("sensor =").unwrap()..])
    };
    turns_into(
        &head(sensors("\"a\"", "\"b\"")),
        &[label(LEFT, "b"), label(RIGHT, "a")],
        &head(sensors("\"b\"", "\"a\"")),
    );
}

#[test]
fn a_label_that_another_sensor_has_is_refused() {
    let text =
        format!("{HEAD}[[sensor]]\nlabel = \"a\"\nrom = \"{LEFT}\"\n[[sensor]]\nlabel = \"b\"\nrom = \"{RIGHT}\"\n");
    assert!(matches!(edited(&text, &[label(LEFT, "b")]), Err(EditError::Unfit)));
    assert!(matches!(edited(&text, &[label(LEFT, "none")]), Err(EditError::Unfit)));
    assert!(matches!(edited(&text, &[label("22:445566000000:E2", "c")]), Err(EditError::NoSensor(_))));
}

const BRIDGE: &str = "# bench\nrig = \"bench\"\nkind = \"bridge\"\n\n[bridge]   # the chip\nchip = \"STM32F103C8\"";

#[test]
fn a_file_without_sensors_gets_its_first() {
    let first = format!("\n\n[[sensor]]\nlabel = \"brine bath\"\nrom = \"{LEFT}\"\n");
    turns_into(BRIDGE, &[sensor(LEFT, "brine bath", Supply::Local)], &format!("{BRIDGE}{first}"));
    let second = format!("\n[[sensor]]\nlabel = \"door\"\nrom = \"{RIGHT}\"\npower = \"parasite\"\n");
    turns_into(
        &format!("{BRIDGE}{first}"),
        &[sensor(RIGHT, "door", Supply::Parasite)],
        &format!("{BRIDGE}{first}{second}"),
    );
}

#[test]
fn sensors_in_braces_get_company_in_braces() {
    let file = |more: &str| {
        format!(
            "rig = \"bench\"\nkind = \"bridge\"\nsensor = [\n  {{ label = \"a\", rom = \"{LEFT}\" }}{more}, # one\n]\n\
             bridge = {{ chip = \"STM32F103C8\" }}\n"
        )
    };
    let more = format!(", {{ label = \"door\", rom = \"{RIGHT}\" }}");
    turns_into(&file(""), &[sensor(RIGHT, "door", Supply::Local)], &file(&more));
    // An empty list is a file without sensors, and gets its first in braces.
    let empty = |more: &str| {
        format!("rig = \"bench\"\nkind = \"bridge\"\nsensor = [{more}]\nbridge = {{ chip = \"STM32F103C8\" }}\n")
    };
    let first = format!("{{ label = \"door\", rom = \"{RIGHT}\" }}");
    turns_into(&empty(""), &[sensor(RIGHT, "door", Supply::Local)], &empty(&first));
}

#[test]
fn a_sensor_that_is_there_already_is_not_added() {
    let text = format!("{BRIDGE}\n[[sensor]]\nlabel = \"a\"\nrom = \"{LEFT}\"\n");
    assert!(matches!(edited(&text, &[sensor(LEFT, "b", Supply::Local)]), Err(EditError::Unfit)));
}
