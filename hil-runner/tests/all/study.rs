//! `hil-runner study resolution` from end to end.

use std::io::{BufRead, BufReader, Read};
use std::process::Stdio;

use crate::common::{Bench, as_its_schema_says, call, command, read};
use serde_json::Value;

/// One sensor on a virtual line, with this behaviour.
fn one_sensor(bench: &Bench, behaviour: &str) -> String {
    let text = format!(
        "rig = \"one\"\nkind = \"virtual\"\n[line]\nsupply = \"3.3 V\"\npull_up = \"4.7 kohm\"\ncable = \"1 m\"\nambient = \"20 \
         degC\"\n[[sensor]]\nlabel = \"a\"\nrom = \"28:4C1E07A35B01:56\"\n[sensor.virtual]\n{behaviour}\n"
    );
    bench.file("one.toml", &text)
}

/// The study as data, held against the schema that is committed.
fn data(args: &[&str]) -> Value {
    let all: Vec<&str> = ["study", "resolution", "--seed", "1", "--json"].iter().chain(args).copied().collect();
    let study = call(&all);
    assert!(matches!(study.code, Some(0 | 1)), "{}", study.err);
    as_its_schema_says(&study.out, "study/src/study.schema.json")
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is a number"))
}

/// 78 % of 93.75, 187.5, 375 and 750 ms (DS18B20 datasheet (7/19), Table 2), seen up to a millisecond and a look later.
#[test]
fn conversion_times_come_out_as_the_sensor_was_made() {
    let bench = Bench::new();
    let study = data(&["--rig", &one_sensor(&bench, "conversion = \"78 %\""), "--repeats", "10"]);
    let rows = study["conversions"].as_array().unwrap();
    assert_eq!(rows.len(), 4);
    for (row, made_us) in rows.iter().zip([73_125.0, 146_250.0, 292_500.0, 585_000.0]) {
        let measured = &row["measured"];
        assert_eq!((&measured["number"], &row["pace"]), (&10.into(), &"in-time".into()));
        let (least, most, grain) =
            (number(&measured["least_us"]), number(&measured["most_us"]), number(&row["grain_us"]));
        assert!(grain > 1_000.0 && grain < 1_200.0, "{row}");
        assert!(least >= made_us && most <= made_us + grain, "{row}");
    }
}

/// Noise of 0.2 degC is far more than a step of 0.0625: of 200 readings its standard deviation is known to some 6 %, of
/// which four are allowed. Without noise, no reading differs.
#[test]
fn noise_comes_out_as_the_sensor_was_made() {
    let bench = Bench::new();
    let study = data(&["--rig", &one_sensor(&bench, "noise = \"0.2 degC\""), "--repeats", "200"]);
    let row = &study["noise"][3];
    assert_eq!(
        (&row["resolution_bits"], &row["readings"], &row["differences"]),
        (&12.into(), &200.into(), &199.into())
    );
    assert_eq!(row["source"], "sensors");
    assert!((number(&row["own_celsius"]) - 0.2).abs() < 0.05, "{row}");
    let study = data(&["--rig", &one_sensor(&bench, "noise = \"0 degC\""), "--repeats", "20"]);
    for row in study["noise"].as_array().unwrap() {
        assert_eq!((number(&row["deviation_celsius"]), &row["source"]), (0.0, &"none".into()), "{row}");
    }
}

/// The short-line timing of a slot is 64 us, and a read is 152 of them and a reset of at least 960 us (DS18B20
/// datasheet (7/19), AC table: tRSTL and tRSTH 480 us each), at most 1.10 times the floor of 10.23 ms.
#[test]
fn bus_times_are_those_of_the_line() {
    let bench = Bench::new();
    let bus = &data(&["--rig", &one_sensor(&bench, ""), "--repeats", "3"])["bus"];
    let (read_us, slot_us) = (number(&bus["read"]["median_us"]), number(&bus["slot_us"]));
    assert!((10_230.0..11_253.0).contains(&read_us), "{bus}");
    assert!((64.0..67.0).contains(&slot_us), "{bus}");
    assert!((number(&bus["convert_us"]) - (read_us - 136.0 * slot_us)).abs() < 100.0, "{bus}");
}

#[test]
fn a_sensor_that_is_too_slow_fails_the_study() {
    let bench = Bench::new();
    let study =
        call(&["study", "resolution", "--rig", &one_sensor(&bench, "conversion = \"110 %\""), "--repeats", "2"]);
    assert_eq!(study.code, Some(1), "{}", study.err);
    assert!(study.out.contains("TOO SLOW"), "{}", study.out);
}

#[test]
fn the_cellar_is_measured_and_a_resolution_recommended() {
    let args = ["study", "resolution", "--seed", "1", "--cell", "2400 mAh", "--steps", "0.1", "--every", "1s"];
    let study = call(&args);
    assert_eq!(study.code, Some(0), "{}", study.err);
    for part in
        ["conversion time", "noise of readings", "readings per second", "tracking error", "cell lasts", "USE 12 BITS: "]
    {
        assert!(study.out.contains(part), "{part}: {}", study.out);
    }
    assert!(study.out.contains("a DS18S20 has no resolution to choose"), "{}", study.out);
    assert!(study.err.contains("8 sensors, 9 conversions of each at each resolution: up to "), "{}", study.err);
    assert_eq!(call(&args).out, study.out, "the same seed gives the same study");
    let none = call(&["study", "resolution", "--steps", "0.1", "--every", "500ms"]);
    assert_eq!(none.code, Some(0));
    assert!(none.out.contains("NONE of the resolutions meets all of it"), "{}", none.out);
}

#[test]
fn parasite_power_shows_no_end_and_is_marked() {
    let study = call(&["study", "resolution", "--rig", "parasite", "--seed", "1"]);
    assert_eq!(study.code, Some(0), "{}", study.err);
    assert!(study.out.contains("cannot show the end of a conversion"), "{}", study.out);
    assert!(study.out.contains("* the datasheet max"), "{}", study.out);
    assert!(!study.out.contains("slowest measured"), "{}", study.out);
}

#[test]
fn a_broken_rig_ends_with_exit_code_3() {
    let bench = Bench::new();
    for rig in [bench.rig("pull_up = \"2.2 kohm\"", "pull_up = \"none\""), "parasite-bare".into()] {
        let study = call(&["study", "resolution", "--rig", &rig]);
        assert_eq!((study.code, &*study.out), (Some(3), ""), "{}", study.err);
        assert!(study.err.contains("error: the rig is broken: "), "{}", study.err);
        assert!(study.err.contains("hint: "), "{}", study.err);
    }
}

#[test]
fn a_missing_sensor_ends_with_exit_code_1() {
    let bench = Bench::new();
    let rig = bench.rig("ambient = \"13.5 degC\"", "ambient = \"13.5 degC\"\nconnected = false");
    let study = call(&["study", "resolution", "--rig", &rig, "--repeats", "2"]);
    assert_eq!(study.code, Some(1), "{}", study.err);
    assert!(study.out.contains("left out  brine bath (28:2F77DB9A6005:02): in the inventory"), "{}", study.out);
}

#[test]
fn bad_options_are_refused_before_anything_is_measured() {
    for (option, value, expected) in [
        ("--rate", "2", "expected a temperature rate such as \"2 degC/min\", found \"2\", a number without a unit"),
        ("--rate", "2 C/min", "the nearest known unit is degC/min"),
        ("--rate", "2 V", "found \"2 V\", a voltage"),
        ("--cell", "2400 mA", "the nearest known unit is mAh"),
        ("--cell", "0 mAh", "expected a charge from 1 uAh to 1000 Ah, found \"0 mAh\""),
        ("--cell-volts", "12 V", "expected a voltage from 1 V to 6 V, found \"12 V\""),
        ("--steps", "fine", "expected a temperature difference"),
        ("--steps", "0", "expected a temperature difference from 0.001 degC to 10 degC"),
        ("--every", "1", "expected a time such as 500ms, 5s or 1m"),
        ("--interval", "0s", "expected a time from 100ms to 24h"),
        ("--repeats", "1", "1 is not in 2..=10000"),
        ("--sensors", "0", "0 is not in 1..=500"),
        ("--plot", "/nowhere/at/all.svg", "expected a file that can be written"),
        ("--plot", "/dev/full", "found something else (a folder or a device)"),
        ("--rig", "cellarr", "expected a rig"),
    ] {
        let study = call(&["study", "resolution", option, value]);
        assert_eq!((study.code, &*study.out), (Some(2), ""), "{option} {value}: {}", study.err);
        assert!(study.err.contains(expected), "{option} {value}: {}", study.err);
        assert!(!study.err.contains("measuring"), "{}", study.err);
    }
    assert_eq!(call(&["study"]).code, Some(2));
    assert_eq!(call(&["study", "resolutions"]).code, Some(2));
}

#[test]
fn help_names_every_option_and_every_code() {
    let help = call(&["study", "resolution", "--help"]);
    assert_eq!(help.code, Some(0));
    for part in
        ["--repeats", "--rate", "--interval", "--cell", "--cell-volts", "--steps", "--every", "--sensors", "--plot"]
    {
        assert!(help.out.contains(part), "{part}: {}", help.out);
    }
    assert!((0..=3).all(|code| help.out.contains(&format!("\n  {code}  "))), "{}", help.out);
    assert!(help.out.contains("never to EEPROM"), "{}", help.out);
}

#[test]
fn the_drawing_is_svg_with_every_resolution_and_the_maximum() {
    let bench = Bench::new();
    let path = bench.name("study.svg");
    let study = call(&["study", "resolution", "--seed", "1", "--plot", &path]);
    assert_eq!(study.code, Some(0), "{}", study.err);
    let text = read(&bench.path("study.svg"));
    let document = roxmltree::Document::parse(&text).unwrap();
    let words: Vec<&str> = document.descendants().filter_map(|node| node.text()).map(str::trim).collect();
    for part in
        ["9 bits", "10 bits", "11 bits", "12 bits", "DS18S20", "datasheet maximum", "max 93.75 ms", "step 0.0625"]
    {
        assert!(words.contains(&part), "{part}");
    }
    assert!(words.iter().any(|text| text.contains("Not a certified measuring instrument")), "{words:?}");
    assert_eq!(std::fs::read_dir(bench.path("")).unwrap().count(), 1, "nothing unfinished is left");
}

#[cfg(target_os = "linux")]
#[test]
fn unwritable_results_end_with_exit_code_2() {
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output =
        command(&["study", "resolution", "--repeats", "2"]).stdout(full).stderr(Stdio::piped()).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("cannot write to standard output"));
}

#[test]
fn a_reader_that_closes_the_pipe_is_no_error() {
    let mut child = command(&["study", "resolution", "--repeats", "2"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
    let mut err = String::new();
    child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
    assert!(!err.contains("panicked") && !err.contains("error"), "{err}");
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_it_and_restores_the_settings() {
    let mut child = command(&["study", "resolution", "--repeats", "10000"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
    assert!(lines.any(|line| line.unwrap() == "measuring at 9 bits"));
    let status = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(status.success());
    let rest: Vec<String> = lines.map(Result::unwrap).collect();
    assert_eq!(child.wait().unwrap().code(), Some(1));
    assert!(rest.contains(&"interrupted; the settings are restored; nothing is reported".to_owned()), "{rest:?}");
}
