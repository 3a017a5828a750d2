//! A rig on a serial adapter, from its file to the exit code: the real program on a pseudo-terminal, behind which is a
//! virtual line.

use std::time::Duration;

use crate::adapter::{Adapter, SENSORS, Trouble};
use crate::common::{Bench, call, read, scenario};

const AT_ONCE: Duration = Duration::ZERO;

/// Calls the program on a rig behind an adapter.
fn on(adapter: &Adapter, bench: &Bench, words: &[&str]) -> crate::common::Call {
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
    let rates: Vec<u32> = adapter.traffic().rates.into_iter().collect();
    assert_eq!(rates, [9_600, 115_200]);
}

#[test]
fn a_rig_file_without_sensors_can_be_scanned_and_hints_how_to_add_them() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::None, AT_ONCE), Bench::new());
    let text = adapter.rig();
    let (head, _) = text.split_once("[[sensor]]").expect("it has sensors");
    let rig = bench.file("bare.toml", head);
    let call = |words: &[&str]| call(&[words, &["--rig", &rig]].concat());
    let hint = format!("hil-runner identify --rig {rig} writes them into the file");

    let scanned = call(&["scan"]);
    assert_eq!(scanned.code, Some(0), "{scanned:?}");
    assert!(SENSORS.iter().all(|(_, rom, ..)| scanned.out.contains(rom)) && scanned.err.contains(&hint), "{scanned:?}");
    let studied = call(&["study", "line", "--searches", "1", "--reads", "10"]);
    assert!(matches!(studied.code, Some(0 | 1)) && studied.out.contains(SENSORS[0].1), "{studied:?}");
    // A sensor can be read by its ROM code; without a name the file would have to list the sensors.
    assert_eq!(call(&["read", SENSORS[0].1]).code, Some(0));
    let scenario = bench.file("scenario.toml", &scenario(&["find = {}"]));
    for (words, why) in [
        (&["read"][..], "without a sensor name the listed sensors are read"),
        (&["run", &scenario], "a scenario judges the listed sensors"),
    ] {
        let called = call(words);
        assert!(called.err.contains(why), "{called:?}");
        assert_eq!(called.code, Some(2), "{called:?}");
        assert!(called.err.contains("lists no sensors yet") && called.err.contains(&hint), "{called:?}");
    }
    // A virtual line has no sensors beyond those of its file.
    let invented = bench.file(
        "rig.toml",
        "rig = \"r\"\nkind = \"virtual\"\n[line]\nsupply = \"3 V\"\npull_up = \"2 kohm\"\n\
         cable = \"1 m\"\nambient = \"20 degC\"\n",
    );
    let called = crate::common::call(&["scan", "--rig", &invented]);
    assert!(called.code == Some(2) && called.err.contains("expected the key sensor"), "{called:?}");
}

/// All three are measured exactly: DS18B20 datasheet (7/19), Table 1.
const EXACT: [&str; 4] = [
    "find = { times = 2 }",
    "measure = { sensors = \"upper shelf left\", near = { reference = \"25.0625 degC\", within = \"0 degC\" } }",
    "measure = { sensors = \"upper shelf right\", near = { reference = \"10.125 degC\", within = \"0 degC\" } }",
    "measure = { sensors = \"door\", near = { reference = \"-10.125 degC\", within = \"0 degC\" } }",
];

/// Runs these steps; the record is in the folder `result`.
fn run(adapter: &Adapter, bench: &Bench, steps: &[&str]) -> crate::common::Call {
    let file = bench.file("scenario.toml", &scenario(steps));
    on(adapter, bench, &["run", &file, "--out", &bench.name("result")])
}

fn record(bench: &Bench) -> serde_json::Value {
    serde_json::from_str(&read(&bench.path("result/record.json"))).expect("JSON")
}

#[test]
fn a_scenario_passes_and_the_record_says_on_what() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::None, AT_ONCE), Bench::new());
    let called = run(&adapter, &bench, &EXACT);
    assert_eq!(called.code, Some(0), "{called:?}");
    assert!(called.out.contains(&format!("3 sensors on the serial adapter {}", adapter.port)), "{}", called.out);
    let record = record(&bench);
    assert_eq!(record["rig"]["kind"]["serial"]["port"], adapter.port.as_str());
    assert_eq!(record["bridge"]["chip"], "serial adapter");
    let seen = adapter.traffic();
    let words: String = called.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let traffic = format!("{} bytes in {} round trips through the serial adapter", seen.bytes, seen.bursts.len());
    assert!(words.contains(&traffic), "{traffic:?}: {}", called.out);
    assert_eq!(record["end"]["port"]["bytes"], seen.bytes);
    assert_eq!(record["end"]["port"]["round_trips"], seen.bursts.len());
}

#[test]
fn an_expectation_that_is_not_met_is_exit_code_1_and_so_is_what_no_switch_does() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::None, AT_ONCE), Bench::new());
    let wrong =
        "measure = { sensors = \"upper shelf left\", near = { reference = \"25.5 degC\", within = \"0.1 degC\" } }";
    let called = run(&adapter, &bench, &[wrong]);
    assert_eq!(called.code, Some(1), "{called:?}");
    assert!(called.out.contains("25.0625 degC"), "{}", called.out);
    let bench = Bench::new();
    let called = run(&adapter, &bench, &[EXACT[0], "power_cycle = { off = \"1 s\" }", EXACT[0]]);
    assert_eq!(called.code, Some(1), "{called:?}");
    assert!(called.out.contains("not possible on this rig"), "{}", called.out);
}

#[test]
fn a_bad_rig_file_is_exit_code_2_with_its_place() {
    let bench = Bench::new();
    let text = include_str!("../../../fixtures/rigs/serial.toml");
    for (from, to, message) in [
        ("serial = \"/dev/ttyUSB0\"", "serial = \"\"", ":8:10: expected a name of 1 to 200 printable characters"),
        ("kind = \"serial\"", "kind = \"serial\"\nchip = \"RP2040\"", ":8:1: expected a key of the rig file"),
        ("kind = \"serial\"", "kind = \"virtual\"", ":8:1: expected no serial here on a rig of this kind"),
    ] {
        assert!(text.contains(from));
        let rig = bench.file("bad.toml", &text.replacen(from, to, 1));
        let called = call(&["read", "--rig", &rig]);
        assert_eq!(called.code, Some(2), "{called:?}");
        assert!(called.err.contains(message), "{}", called.err);
    }
}

/// How the program names what is wrong.
#[track_caller]
fn broken(trouble: Trouble, names: &[&str]) {
    let (adapter, bench) = (Adapter::plug_in(trouble, AT_ONCE), Bench::new());
    let called = run(&adapter, &bench, &EXACT);
    assert_eq!(called.code, Some(3), "{trouble:?}: {called:?}");
    let text = called.out.replace("\n        ", "");
    let words: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(names.iter().any(|name| words.contains(name)), "{trouble:?}: {}", called.out);
    assert!(bench.path("result/record.json").exists(), "what was seen is kept");
}

#[test]
fn no_loop_back_is_named() {
    broken(Trouble::NoEcho, &["no echo from the serial adapter on /dev/pts/"]);
    broken(Trouble::NoTransmitter, &["wrong echo, FFh to F0h"]);
}

#[test]
fn an_adapter_that_is_pulled_out_in_mid_run_is_named() {
    // In a reset, in a search, in a reading.
    for after in [0, 300, 1_500] {
        broken(Trouble::UnpluggedAfter(after), &["is gone, unplugged or closed at its far end"]);
    }
}

#[test]
fn an_adapter_that_loses_swaps_or_doubles_bytes_is_not_trusted() {
    let distrust = "is not to be trusted";
    // In the command of the first search; its second bit is the same as the first, its fifth is not the same as the
    // fourth.
    broken(Trouble::Drops(3), &[distrust]);
    broken(Trouble::Swaps(4), &[distrust]);
    broken(Trouble::Doubles(8), &[distrust]);
}

#[test]
fn a_receiver_at_another_rate_is_found_by_its_echo() {
    broken(Trouble::SlowReceiver, &["wrong echo", "is not to be trusted"]);
}

#[test]
fn a_line_that_is_held_low_from_the_beginning_or_in_mid_run_is_stuck_low() {
    for after in [0, 300] {
        broken(Trouble::ShortAfter(after), &["line stuck low"]);
    }
}

#[test]
fn a_line_without_sensors_is_reported_empty_after_a_second_reset_at_7200_baud() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::NoSensors, AT_ONCE), Bench::new());
    let called = run(&adapter, &bench, &EXACT);
    assert_eq!(called.code, Some(3), "{called:?}");
    assert!(called.out.contains("no sensor answered the reset"), "{}", called.out);
    assert!(adapter.traffic().rates.contains(&7_200), "{:?}", adapter.traffic());
}

#[test]
fn parasite_power_without_a_strong_pull_up_is_refused_by_name() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::Parasite, AT_ONCE), Bench::new());
    let rig =
        adapter.rig().replacen("label = \"upper shelf left\"", "label = \"upper shelf left\"\npower = \"parasite\"", 1);
    let rig = bench.file("parasite.toml", &rig);
    let called = call(&["read", "upper shelf left", "--rig", &rig]);
    assert_eq!(called.code, Some(3), "{called:?}");
    assert!(format!("{}{}", called.out, called.err).contains("this line has no strong pull-up"), "{called:?}");
}

#[test]
fn ports_that_cannot_be_used_are_named_before_anything_is_sent() {
    let bench = Bench::new();
    let adapter = Adapter::plug_in(Trouble::None, AT_ONCE);
    let rig = bench.file("missing.toml", &adapter.rig().replace(&adapter.port, "/dev/no-such-port"));
    let called = call(&["read", "--rig", &rig]);
    assert_eq!((called.code, called.err.trim()), (Some(3), "error: there is no serial port /dev/no-such-port"));

    // A pseudo-terminal has no modem lines.
    let rig = bench.file("rts.toml", &adapter.rig().replace("# strong_pull_up", "strong_pull_up"));
    let called = call(&["read", "--rig", &rig]);
    assert_eq!(called.code, Some(3), "{called:?}");
    assert!(called.err.contains("cannot move its modem line RTS"), "{}", called.err);

    let holder = serialport::new(&adapter.port, 9_600).open().expect("the port is free");
    let called = on(&adapter, &bench, &["read"]);
    assert_eq!(called.code, Some(3), "{called:?}");
    assert!(called.err.contains("is in use by another program"), "{}", called.err);
    drop(holder);
    assert_eq!(adapter.traffic().bytes, 0);
    assert_eq!(on(&adapter, &bench, &["read"]).code, Some(0), "free again");
}

/// What one 12-bit reading of one sensor costs: so many exchanges, however many slots they hold.
#[test]
fn a_reading_costs_a_bounded_number_of_round_trips() {
    for latency_ms in [0, 1, 16] {
        let (adapter, bench) = (Adapter::plug_in(Trouble::None, Duration::from_millis(latency_ms)), Bench::new());
        let called = on(&adapter, &bench, &["read", "upper shelf left", "--json"]);
        assert_eq!(called.code, Some(0), "{called:?}");
        let seen = adapter.traffic();
        // A reset; Match ROM, a ROM code and Read Power Supply; its answer. A reset; Match ROM, a ROM code and Convert
        // T; polls of the sensor. Twice a reset; Match ROM, a ROM code, Read Scratchpad and nine bytes.
        let (before, rest) = seen.bursts.split_at(5);
        assert_eq!(before, [1, 80, 3, 1, 80]);
        let (looks, after) = rest.split_at(rest.len() - 4);
        assert_eq!(after, [1, 152, 1, 152]);
        // The first poll, which says busy, is five slots, and the last, which says done, one and two more.
        let [5, between @ .., 1, 2] = looks else { panic!("{looks:?}") };
        assert!(between.iter().all(|bytes| *bytes == 1));
        // A look is 1 ms after the answer to the one before, and the sensor is done within 750 ms (DS18B20 datasheet
        // (7/19), Table 2).
        assert!(looks.len() as u64 <= 750 / (1 + latency_ms) + 2, "{} looks", looks.len());
        println!(
            "latency {latency_ms} ms: {} ms, of which {} looks; {} bytes in {} round trips",
            seen.took.as_millis(),
            looks.len(),
            seen.bytes,
            seen.bursts.len()
        );
    }
}

#[test]
fn watching_ends_on_ctrl_c_or_when_the_adapter_is_unplugged() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::UnpluggedAfter(1_500), AT_ONCE), Bench::new());
    let called = on(&adapter, &bench, &["read", "upper shelf left", "--watch=100ms", "--json"]);
    assert_eq!(called.code, Some(3), "{called:?}");
    assert!(called.out.lines().count() > 1 && called.out.contains("\"sixteenths\":401"), "{}", called.out);
    assert!(format!("{}{}", called.out, called.err).contains("is gone, unplugged"), "{called:?}");
}

/// The virtual sensors take 80 % of 93.75, 187.5, 375 and 750 ms (DS18B20 datasheet (7/19), Table 2).
#[test]
fn a_study_measures_conversion_times_to_within_one_poll() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::None, AT_ONCE), Bench::new());
    let called = on(&adapter, &bench, &["study", "resolution", "--json", "--repeats", "2"]);
    assert!(matches!(called.code, Some(0 | 1)), "{called:?}");
    let study: serde_json::Value = serde_json::from_str(&called.out).expect("JSON");
    let rows = study["conversions"].as_array().expect("rows");
    assert_eq!(rows.len(), 4);
    for (row, made_us) in rows.iter().zip([75_000, 150_000, 300_000, 600_000]) {
        let (median_us, grain_us) = (row["measured"]["median_us"].as_u64(), row["grain_us"].as_u64());
        let off_us = median_us.expect("a time").abs_diff(made_us);
        // Both ends of the pseudo-terminal wait for their turn on a machine with much to do.
        assert!(off_us <= grain_us.expect("a time") + 20_000, "{row}");
    }
}

/// A byte of 115200 baud samples the line 13.02 us after its edge. It measures no rise, so the values given decide on
/// levels alone: (3.3 V - 0.4 V) / 100 ohm = 29 mA, of which a sensor sinks 4 mA (DS18B20 datasheet (7/19), DC table,
/// IL).
#[test]
fn the_health_of_its_line_is_judged_by_its_own_slots() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::None, AT_ONCE), Bench::new());
    let study =
        |more: &[&str]| on(&adapter, &bench, &[&["study", "line", "--searches", "2", "--reads", "2"], more].concat());
    let untold = study(&[]);
    assert_eq!(untold.code, Some(0), "{untold:?}");
    assert!(untold.out.contains("15 us - 13 us = 1.98 us (the driver's bytes on a serial adapter"), "{}", untold.out);
    assert!(!untold.out.contains("timing set"), "{}", untold.out);
    let given = study(&["--supply", "3.3 V", "--pull-up", "100 ohm"]);
    assert_eq!(given.code, Some(1), "{given:?}");
    assert!(given.out.contains("NOT SOUND low level: 25 mA beyond its limit"), "{}", given.out);
}

#[test]
fn runs_of_a_night_on_one_port_take_turns() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::None, AT_ONCE), Bench::new());
    bench.file("serial.toml", &adapter.rig());
    bench.file("scenario.toml", &scenario(&EXACT));
    let run = "[[run]]\nrig = \"serial.toml\"\nscenarios = [\"scenario.toml\"]\ntimes = 2\n";
    let plan = bench.file("plan.toml", &format!("plan = \"night\"\n{run}{run}"));
    let called = call(&["nightly", &plan, "--date", "2026-03-01"]);
    assert_eq!(called.code, Some(0), "{called:?}");
    assert!(called.out.contains("4 of 4 runs passed"), "{}", called.out);
}
