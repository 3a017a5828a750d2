//! `hil-runner scan` and `hil-runner read` from end to end.

use std::io::{BufRead, BufReader, Read};
use std::process::Stdio;

use crate::common::{Bench, call, command};
use serde_json::Value;

#[test]
fn scan_lists_every_sensor_with_power_resolution_and_reading() {
    let scan = call(&["scan", "--seed", "5"]);
    assert_eq!(scan.code, Some(0), "{}{}", scan.out, scan.err);
    assert!(scan.out.contains("seed      5\nagain     hil-runner scan --seed 5\n"), "{}", scan.out);
    let rows: Vec<&str> = scan.out.lines().filter(|line| line.contains("degC  none")).collect();
    assert_eq!(rows.len(), 8, "{}", scan.out);
    assert!(rows.iter().all(|row| row.contains("local")), "{}", scan.out);
    assert_eq!(rows.iter().filter(|row| row.contains("12 bits")).count(), 7, "{}", scan.out);
}

#[test]
fn scan_reports_parasite_power() {
    let scan = call(&["scan", "--rig", "parasite"]);
    assert_eq!(scan.code, Some(0), "{}{}", scan.out, scan.err);
    assert_eq!(scan.out.matches("  parasite  ").count(), 4, "{}", scan.out);
}

#[test]
fn scan_reports_missing_sensors() {
    let bench = Bench::new();
    let rig = bench.rig("ambient = \"13.5 degC\"", "ambient = \"13.5 degC\"\nconnected = false");
    let scan = call(&["scan", "--rig", &rig]);
    assert_eq!(scan.code, Some(1), "{}{}", scan.out, scan.err);
    let row = scan.out.lines().find(|line| line.trim_start().starts_with("brine bath")).unwrap();
    assert!(row.contains("MISSING"), "{row}");
}

#[test]
fn scan_names_a_sensor_that_the_timing_set_is_too_fast_for() {
    let bench = Bench::new();
    let fast = call(&["scan", "--rig", &bench.rig("timing = \"long line\"", "timing = \"short line\"")]);
    // DS28EA00 datasheet, electrical table: tSLOT 65 us, tREC 5 us.
    assert!(fast.err.contains("too fast for sensors of family 42h, which need slots of 65 us"), "{}", fast.err);
    assert_eq!(fast.err.matches("too fast").count(), 1, "{}", fast.err);
    let slow = call(&["scan"]);
    assert!(!slow.err.contains("too fast"), "{}", slow.err);
}

#[test]
fn scan_of_a_broken_rig_names_the_fault() {
    let bench = Bench::new();
    let rig = bench.rig("pull_up = \"2.2 kohm\"", "pull_up = \"none\"");
    for args in [["scan", "--rig", &rig], ["read", "--rig", &rig]] {
        let scan = call(&args);
        assert_eq!((scan.code, &*scan.out), (Some(3), ""), "{}", scan.err);
        assert!(scan.err.contains("error: the rig is broken: line stuck low"), "{}", scan.err);
        assert!(scan.err.contains("hint: this rig has no pull-up"), "{}", scan.err);
    }
}

#[test]
fn scan_speaks_json() {
    let scan = call(&["scan", "--seed", "5", "--json"]);
    let value: Value = serde_json::from_str(&scan.out).unwrap();
    assert_eq!(value["seed"], 5);
    let sensors = value["sensors"].as_array().unwrap();
    assert_eq!(sensors.len(), 8);
    let bath = sensors.iter().find(|sensor| sensor["label"] == "brine bath").unwrap();
    assert_eq!(
        (&bath["rom"], &bath["standing"], &bath["part"]),
        (&"28:2F77DB9A6005:02".into(), &"present".into(), &"DS18B20".into())
    );
    let read = &bath["seen"]["read"];
    assert_eq!(read["celsius"].as_f64().unwrap() * 16.0, read["sixteenths"].as_f64().unwrap());
}

#[test]
fn read_takes_labels_and_rom_codes() {
    let read = call(&["read", "door", "28:2F77DB9A6005:02", "--seed", "5"]);
    assert_eq!(read.code, Some(0), "{}{}", read.out, read.err);
    let lines: Vec<&str> = read.out.lines().collect();
    assert_eq!(lines.len(), 2, "{}", read.out);
    assert!(lines[0].starts_with("door        10:D63B09A80800:4F  "), "{}", read.out);
    assert!(lines[1].starts_with("brine bath  28:2F77DB9A6005:02  "), "{}", read.out);
    assert!(lines.iter().all(|line| line.ends_with(" degC")), "{}", read.out);
    assert!(read.err.contains("seed 5"), "{}", read.err);
}

#[test]
fn read_of_a_sensor_that_is_not_there_says_so() {
    let bench = Bench::new();
    let rig = bench.rig("ambient = \"13.5 degC\"", "ambient = \"13.5 degC\"\nconnected = false");
    let read = call(&["read", "--rig", &rig]);
    assert_eq!(read.code, Some(1), "{}{}", read.out, read.err);
    let row = read.out.lines().find(|line| line.trim_start().starts_with("brine bath")).unwrap();
    assert!(row.contains("no answer"), "{row}");
}

#[cfg(unix)]
#[test]
fn watch_goes_on_in_real_time_and_ends_cleanly_on_ctrl_c() {
    let mut child = command(&["read", "door", "--watch=200ms", "--json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let started = std::time::Instant::now();
    let times: Vec<u64> = (0..4)
        .map(|_| serde_json::from_str::<Value>(&lines.next().unwrap().unwrap()).unwrap()["at_ns"].as_u64().unwrap())
        .collect();
    assert!(started.elapsed() >= std::time::Duration::from_millis(500), "{:?}", started.elapsed());
    assert!(times.windows(2).all(|pair| pair[0] < pair[1]), "{times:?}");
    let status = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(status.success());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

#[test]
fn a_reader_that_closes_the_pipe_ends_a_watch() {
    let mut child = command(&["read", "--watch=100ms"]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut out = BufReader::new(child.stdout.take().unwrap());
    let mut line = String::new();
    out.read_line(&mut line).unwrap();
    drop(out);
    assert_eq!(child.wait().unwrap().code(), Some(0));
    let mut err = String::new();
    child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
    assert!(!err.contains("panicked") && !err.contains("error"), "{err}");
}

#[test]
fn a_reader_that_closes_the_pipe_changes_neither_the_run_nor_its_code() {
    let bench = Bench::new();
    let mut child =
        command(&["run", "--out", &bench.name("out")]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
    let mut err = String::new();
    child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
    assert_eq!(err, "");
    assert!(bench.path("out/record.json").exists());
}

#[test]
fn scan_lists_the_sensors_even_if_none_can_convert() {
    let scan = call(&["scan", "--rig", "parasite-bare", "--seed", "1"]);
    assert_eq!(scan.code, Some(3), "{}{}", scan.out, scan.err);
    assert_eq!(scan.out.matches("  parasite  ").count(), 2, "{}", scan.out);
    assert!(scan.out.contains("no strong pull-up"), "{}", scan.out);
    assert!(scan.err.contains("hint: each parasite-powered sensor draws"), "{}", scan.err);
}
