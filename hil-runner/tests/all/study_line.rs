//! `hil-runner study line` from end to end.

use std::io::{BufRead, BufReader};
use std::process::Stdio;

use crate::common::{Bench, Call, as_its_schema_says, call, command};
use serde_json::Value;

fn line(args: &[&str]) -> Call {
    let all: Vec<&str> = ["study", "line"].iter().chain(args).copied().collect();
    call(&all)
}

/// The study as data, held against the schema that is committed.
fn data(args: &[&str]) -> Value {
    let all: Vec<&str> = args.iter().chain(&["--json"]).copied().collect();
    let study = line(&all);
    assert!(matches!(study.code, Some(0 | 1)), "{}", study.err);
    as_its_schema_says(&study.out, "study/src/line/line.schema.json")
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is a number"))
}

fn margin(study: &Value, parameter: &str) -> Value {
    let margins = study["margins"].as_array().unwrap();
    margins
        .iter()
        .find(|margin| margin["parameter"] == parameter)
        .unwrap_or_else(|| panic!("{parameter}: {study}"))
        .clone()
}

/// A plan of 30 m, 8 sensors, 4.7 kohm at 3.3 V.
const PLAN: [&str; 9] = ["--plan", "--supply", "3.3 V", "--pull-up", "4.7 kohm", "--cable", "30 m", "--sensors", "8"];

#[test]
fn the_cellar_is_sound() {
    let study = line(&["--seed", "1"]);
    assert_eq!(study.code, Some(0), "{}{}", study.out, study.err);
    for part in [
        "who is there",
        "20 of 20",
        "0 of 800 reads failed: between 0 % and 0.46 % of all reads",
        "cable, ESTIMATED",
        "margins",
        "at least 725 ohm",
        "m more cable of 50 pF/m until",
        "SOUND",
    ] {
        assert!(study.out.contains(part), "{part}: {}", study.out);
    }
    assert!(study.err.contains("searching the line 20 times"), "{}", study.err);
    assert!(study.err.contains("reading the scratchpad of 8 sensors 100 times each"), "{}", study.err);
    assert_eq!(line(&["--seed", "1"]).out, study.out, "the same seed gives the same study");
}

/// 20 m of 50 pF/m and 8 x 25 pF, 10 pF of the master: 1210 pF, 2.662 us at 2.2 kohm, within 4 %; see the unit tests.
#[test]
fn measurement_and_plan_of_the_cellar_agree() {
    let seen = data(&["--seed", "1", "--searches", "3", "--reads", "3", "--threshold", "70 %"]);
    let plan = data(&["--plan", "--rig", "cellar"]);
    assert_eq!((&plan["seen"], &plan["place"], &seen["place"]["rig"]), (&Value::Null, &Value::Null, &"cellar".into()));
    let rc_us = number(&seen["seen"]["estimates"]["rc_us"]["best"]);
    assert!((rc_us / 2.662 - 1.0).abs() < 0.04, "{rc_us}");
    for parameter in ["rise-check", "read-sample", "recovery", "idle-level", "low-level"] {
        let (seen, plan) = (margin(&seen, parameter), margin(&plan, parameter));
        let (seen, plan) = (number(&seen["margin"]), number(&plan["margin"]));
        assert!((seen / plan - 1.0).abs() < 0.04, "{parameter}: {seen}, planned {plan}");
    }
    assert_eq!(margin(&seen, "rise-check")["basis"], "measured");
    assert_eq!(margin(&plan, "rise-check")["basis"], "computed");
}

/// The firmware on the emulated chip looks at the line between its own instructions: its rise is known to a grain, and
/// the bounds hold the 1210 pF and the 20 m. Its read sample is seen edge by edge.
#[test]
fn an_emulated_chip_measures_the_same_line_more_coarsely() {
    let study = data(&["--rig", "emulated", "--seed", "1", "--searches", "2", "--reads", "2"]);
    let (seen, unsound) = (&study["seen"], &study["unsound"]);
    assert_eq!(unsound, &Value::Array(Vec::new()));
    assert!(number(&seen["grain_ns"]) > 0.0, "{seen}");
    for (name, made) in [("picofarad", 1210.0), ("cable_m", 20.0)] {
        let estimate = &seen["estimates"][name];
        assert!(number(&estimate["least"]) < made && made < number(&estimate["most"]), "{name}: {estimate}");
        assert!((number(&estimate["best"]) / made - 1.0).abs() < 0.4, "{name}: {estimate}");
    }
    let sample = &seen["read_sample_ns"];
    assert!((13_000.0..15_000.0).contains(&number(&sample["most_ns"])), "{sample}");
    assert_eq!(margin(&study, "read-valid")["basis"], "measured");
}

/// Below 725 ohm at 3.3 V a sensor cannot pull the line low: (3.3 - 0.4) V / 4 mA (DS18B20 datasheet (7/19), DC table).
#[test]
fn a_plan_beyond_a_limit_is_not_sound() {
    let sound = line(&[&PLAN[..], &["--timing", "long-line"]].concat());
    assert_eq!((sound.code, &*sound.err), (Some(0), ""), "{}", sound.out);
    assert!(sound.out.contains("FIT 4.3 kohm, the largest that does"), "{}", sound.out);
    assert_eq!(line(&[&PLAN[..], &["--timing", "long"]].concat()).out, sound.out);
    for (args, why) in [
        (&PLAN[..], "NOT SOUND recovery between slots"),
        (&["--plan", "--rig", "cellar", "--pull-up", "680 ohm"][..], "NOT SOUND low level"),
        (&["--plan", "--rig", "cellar", "--cable", "100 m"], "NOT SOUND rise after a reset"),
        (&["--plan", "--rig", "cellar", "--sensors", "400"], "NOT SOUND idle level"),
        (&["--plan", "--rig", "parasite", "--strong-pull-up", "none"], "NOT SOUND parasite power"),
        (&["--plan", "--rig", "parasite-bare"], "NOT SOUND parasite power"),
    ] {
        let study = line(args);
        assert_eq!(study.code, Some(1), "{args:?}: {}", study.out);
        assert!(study.out.contains(why), "{args:?}: {}", study.out);
    }
    let plan = data(&[&PLAN[..], &["--timing", "standard"]].concat());
    // 13 us - 3 us, less RC of 4.7 kohm and 1500 + 200 + 10 pF times ln(3.112 / 0.802), 5 uA x 8 x 4.7 kohm below 3.3
    // V.
    let by_hand = 10.0 - 4.7e3 * 1_710e-6 * (3.112_f64 / 0.802).ln();
    assert!((number(&margin(&plan, "read-sample")["margin"]) - by_hand).abs() < 1e-9, "{plan}");
}

/// What the plan says is left, and a little more, on the virtual line with that cable: inside all is sound, outside the
/// driver refuses.
#[test]
fn the_cable_that_is_left_is_true_on_the_line() {
    let bench = Bench::new();
    let plan = data(&["--plan", "--rig", "cellar"]);
    let more_m = number(&plan["advice"]["cable_more_m"]);
    let of = |metres: f64| {
        let cable = format!("cable = \"{} mm\"", (metres * 1e3).floor());
        let rig = bench.rig("cable = \"20 m\"", &cable);
        line(&["--rig", &rig, "--seed", "1", "--reads", "5"])
    };
    let inside = of(20.0 + more_m - 0.5);
    assert_eq!(inside.code, Some(0), "{more_m}: {}", inside.out);
    let outside = of((20.0 + more_m) * 1.05);
    assert_eq!((outside.code, &*outside.out), (Some(3), ""), "{more_m}: {}", outside.err);
    assert!(outside.err.contains("error: the rig is broken: ") && outside.err.contains("hint: "), "{}", outside.err);
}

#[test]
fn a_missing_sensor_and_a_broken_rig_have_different_exit_codes() {
    let bench = Bench::new();
    let rig = bench.rig("ambient = \"13.5 degC\"", "ambient = \"13.5 degC\"\nconnected = false");
    let study = line(&["--rig", &rig, "--searches", "4", "--reads", "2"]);
    assert_eq!(study.code, Some(1), "{}", study.err);
    assert!(study.out.contains("NOT SOUND brine bath (28:2F77DB9A6005:02): found in 0 of 4 searches"), "{}", study.out);
    let rig = bench.rig("pull_up = \"2.2 kohm\"", "pull_up = \"none\"");
    let broken = line(&["--rig", &rig]);
    assert_eq!((broken.code, &*broken.out), (Some(3), ""), "{}", broken.err);
}

#[test]
fn bad_options_are_refused_before_anything_is_done() {
    let plan = |option: &'static str, value: &'static str| [&PLAN[..], &[option, value]].concat();
    for (args, expected) in [
        (plan("--per-metre", "50 F"), "its units are pF/m, nF/km and nF/m"),
        (plan("--per-metre", "2 nF"), "expected a capacitance per length from 1 pF/m to 1 nF/m"),
        (plan("--threshold", "10 %"), "expected a share from 30 % to 90 %"),
        (plan("--timing", "short"), "short-line, long-line"),
        (plan("--power", "solar"), "local, parasite"),
        (plan("--strong-pull-up", "2 kohm"), "expected a resistance from 1 ohm to 1 kohm"),
        (plan("--searches", "3"), "cannot be used with"),
        (plan("--reads", "3"), "cannot be used with"),
        (vec!["--plan", "--supply", "12 V"], "expected a voltage from 3 V to 5.5 V, found \"12 V\""),
        (vec!["--plan", "--supply", "3.3"], "a number without a unit"),
        (vec!["--plan", "--pull-up", "4.7k"], "the nearest known unit is kohm"),
        (vec!["--plan", "--pull-up", "10 ohm"], "expected a resistance from 100 ohm to 1 Mohm, found \"10 ohm\""),
        (vec!["--plan", "--cable", "3 km"], "expected a length from 0 m to 2 km, found \"3 km\""),
        (vec!["--plan", "--cable", "30 V"], "found \"30 V\", a voltage"),
        (vec!["--plan", "--sensors", "501"], "501 is not in 1..=500"),
        (vec!["--plan"], "a plan needs --supply, or --rig with the file of a virtual rig"),
        (vec!["--plan", "--supply", "5 V", "--pull-up", "1 kohm", "--cable", "1 m"], "a plan needs --sensors"),
        (plan("--seed", "1"), "cannot be used with"),
        (plan("--image", "x.elf"), "cannot be used with"),
        (vec!["--plan", "--pull-up", "4k7"], "the nearest known unit is kohm"),
        (vec!["--plan", "--rig", "cellarr"], "expected a rig"),
        (vec!["--cable", "3 m"], "--plan"),
        (vec!["--searches", "0"], "0 is not in 1..=10000"),
        (vec!["--error-limit", "200 %"], "expected a share from 0 % to 100 %"),
        (vec!["--rig", "cellarr"], "expected a rig"),
    ] {
        let study = line(&args);
        assert_eq!((study.code, &*study.out), (Some(2), ""), "{args:?}: {}", study.err);
        assert!(study.err.contains(expected), "{args:?}: {}", study.err);
        assert!(!study.err.contains("searching"), "{}", study.err);
    }
}

const SENSOR: &str = "[[sensor]]\nlabel = \"a\"\nrom = \"28:4C1E07A35B01:56\"\n";

/// 20 m of cable, 10 pF of the master and 25 pF at 4.7 kohm are 4.86 us; to 70 % 1.204 times as much and a little more
/// for what the sensor draws, against 4.34 us between release and look of a byte at 115200 baud.
#[test]
fn a_plan_for_a_serial_adapter_has_the_times_of_its_bytes() {
    let bench = Bench::new();
    let of = |top: &str, more: &[&str]| {
        let text = format!("rig = \"desk\"\nkind = \"serial\"\nserial = \"/dev/ttyUSB0\"\n{top}\n{SENSOR}");
        let rig = bench.file("serial.toml", &text);
        let numbers = ["--plan", "--rig", &rig, "--supply", "3.3 V", "--cable", "20 m"];
        line(&[&numbers[..], more].concat())
    };
    let slow = of("", &["--pull-up", "4.7 kohm"]);
    assert_eq!(slow.code, Some(1), "{}", slow.out);
    assert!(slow.out.contains("NOT SOUND rise before the read sample"), "{}", slow.out);
    assert!(!slow.out.contains("timing set") && !slow.out.contains("rise after a reset"), "{}", slow.out);
    // Without a pull-up in options or file the advised one is assumed.
    let advised = of("", &[]);
    assert_eq!(advised.code, Some(0), "{}", advised.out);
    assert!(advised.out.contains("no pull-up is stated: 3 kohm, the one that is advised"), "{}", advised.out);
    let refused = of("", &["--timing", "long-line"]);
    assert_eq!((refused.code, &*refused.out), (Some(2), ""));
    assert!(refused.err.contains("--timing does not apply to a serial adapter"), "{}", refused.err);
    // There is a strong pull-up, of which the file says no more.
    let strong = of("strong_pull_up = \"rts\"", &["--power", "parasite"]);
    assert!(strong.out.contains("the resistance of the strong pull-up is not stated"), "{}", strong.out);
}

#[test]
fn a_plan_takes_from_every_file_what_it_says() {
    let bench = Bench::new();
    let sensor = "[[sensor]]\nlabel = \"a\"\nrom = \"28:4C1E07A35B01:56\"\npower = \"parasite\"\n";
    let top = "rig = \"desk\"\nkind = \"bridge\"\ntiming = \"long line\"\n[bridge]\nchip = \"STM32F103C8\"\n";
    let rig = bench.file("desk.toml", &format!("{top}{sensor}"));
    let real = data(&["--plan", "--rig", &rig, "--supply", "5 V", "--cable", "3 m"]);
    let numbers = &real["numbers"];
    assert_eq!((&numbers["parasites"], &numbers["timing"]), (&1.into(), &"long-line".into()), "{numbers}");
    assert_eq!(numbers["strong_pull_up"], "none", "{numbers}");
    assert!(margin(&real, "parasite-power")["margin"].is_number());
    // The cellar without its pull-up is still the cellar.
    let rig = bench.rig("pull_up = \"2.2 kohm\"", "pull_up = \"none\"");
    let (bare, cellar) =
        (data(&["--plan", "--rig", &rig, "--pull-up", "2.2 kohm"]), data(&["--plan", "--rig", "cellar"]));
    assert_eq!(bare["numbers"], cellar["numbers"]);
    // Planned as it is, it has none.
    let bare = line(&["--plan", "--rig", &rig]);
    assert_eq!(bare.code, Some(1), "{}", bare.out);
    assert!(bare.out.contains("NOT SOUND no pull-up: the file of the rig says that it has none"), "{}", bare.out);
    assert!(
        bare.out.contains("FIT 4.7 kohm, the usual one") || bare.out.contains("the largest that does"),
        "{}",
        bare.out
    );
    assert!(!bare.out.contains("no pull-up is stated"), "{}", bare.out);
}

/// As an option it is refused at once; a file may have what sensors do not stand or do not run on (DS18B20 datasheet
/// (7/19), DC table: 3.0 to 5.5 V).
#[test]
fn a_supply_that_no_sensor_has_is_not_sound() {
    let bench = Bench::new();
    for supply in ["6 V", "2.8 V"] {
        let rig = bench.rig("supply = \"3.3 V\"", &format!("supply = \"{supply}\""));
        let plan = line(&["--plan", "--rig", &rig]);
        assert_eq!(plan.code, Some(1), "{}", plan.out);
        assert!(plan.out.contains("NOT SOUND supply: "), "{}", plan.out);
    }
}

#[test]
fn a_real_rig_gives_no_numbers_for_a_plan() {
    let bench = Bench::new();
    let text = "rig = \"desk\"\nkind = \"bridge\"\n[bridge]\nchip = \"STM32F103C8\"\n\
                [[sensor]]\nlabel = \"a\"\nrom = \"28:4C1E07A35B01:56\"\n";
    let rig = bench.file("desk.toml", text);
    let study = line(&["--plan", "--rig", &rig]);
    assert_eq!(study.code, Some(2));
    assert!(study.err.contains("a plan needs --supply, which the file of this rig does not give"), "{}", study.err);
}

#[test]
fn help_names_every_option_and_every_code() {
    let help = line(&["--help"]);
    assert_eq!(help.code, Some(0));
    let options = [
        "--plan",
        "--searches",
        "--reads",
        "--error-limit",
        "--supply",
        "--pull-up",
        "--strong-pull-up",
        "--per-metre",
        "--threshold",
        "--cable",
        "--sensors",
        "--timing",
        "--power",
        "--json",
    ];
    for part in options {
        assert!(help.out.contains(part), "{part}: {}", help.out);
    }
    assert!((0..=3).all(|code| help.out.contains(&format!("\n  {code}  "))), "{}", help.out);
    assert!(help.out.contains("neither scratchpad nor EEPROM") && help.out.contains("mains wiring"), "{}", help.out);
}

#[cfg(target_os = "linux")]
#[test]
fn unwritable_results_end_with_exit_code_2() {
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let args = [&["study", "line"], &PLAN[..]].concat();
    let output = command(&args).stdout(full).stderr(Stdio::piped()).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("cannot write to standard output"));
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_it_with_a_report_on_what_was_measured_so_far() {
    let mut child =
        command(&["study", "line", "--reads", "100000"]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
    assert!(lines.any(|line| line.unwrap().starts_with("reading the scratchpad")));
    let status = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(status.success());
    let rest: Vec<String> = lines.map(Result::unwrap).collect();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    let report = String::from_utf8_lossy(&output.stdout);
    assert!(report.contains("reads") && !report.contains("100000 reads"), "{report}");
    assert!(rest.contains(&"interrupted: the report covers what was measured so far".to_owned()), "{rest:?}");
}
