//! A rig on a serial adapter, from its file to the exit code: the real program on a pseudo-terminal, behind which is a virtual line.

#![cfg(unix)]

mod adapter;
mod common;

use std::time::Duration;

use adapter::{Adapter, SENSORS, Trouble};
use common::{Bench, call};

const AT_ONCE: Duration = Duration::ZERO;

/// Calls the program on a rig behind an adapter.
fn on(adapter: &Adapter, bench: &Bench, words: &[&str]) -> common::Call {
    let rig = bench.file("serial.toml", &adapter.rig());
    call(&[words, &["--rig", &rig]].concat())
}

#[test]
fn sensors_are_found_and_read_as_the_table_says() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::None, AT_ONCE), Bench::new());
    let scanned = on(&adapter, &bench, &["scan", "--json"]);
    assert_eq!(scanned.code, Some(0), "{scanned:?}");
    let scanned: serde_json::Value = serde_json::from_str(&scanned.out).expect("JSON");
    let mut roms: Vec<&str> =
        scanned["sensors"].as_array().expect("a list").iter().filter_map(|sensor| sensor["rom"].as_str()).collect();
    roms.sort_unstable();
    let mut expected: Vec<&str> = SENSORS.iter().map(|(_, rom, ..)| *rom).collect();
    expected.sort_unstable();
    assert_eq!(roms, expected);

    let called = on(&adapter, &bench, &["read", "--json"]);
    assert_eq!(called.code, Some(0), "{called:?}");
    let round: serde_json::Value = serde_json::from_str(&called.out).expect("JSON");
    for (_, rom, _, raw) in SENSORS {
        let readings = round["readings"].as_array().expect("a list");
        let reading = readings.iter().find(|reading| reading["rom"] == rom).expect("it was read");
        let bytes = reading["seen"]["read"]["bytes"].as_str().expect("bytes");
        let [low, high] = raw.to_le_bytes();
        assert!(bytes.starts_with(&format!("{low:02X} {high:02X} ")), "{rom}: {bytes} is not {raw:04X}h");
    }
    let rates: Vec<u32> = adapter.seen().rates.into_iter().collect();
    assert_eq!(rates, [9_600, 115_200]);
}
