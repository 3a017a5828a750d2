//! `hil-runner run` from end to end: output and exit codes.

use crate::common::{Bench, call, scenario};

const BRINE_BATH: &str = "28:2F77DB9A6005:02";

#[test]
fn without_arguments_eight_sensors_are_found_measured_and_judged() {
    let run = call(&["run"]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    assert!(run.out.contains("\n         8 sensors found, the same in each of 3 searches\n"), "{}", run.out);
    let rows = run.out.lines().filter(|line| line.contains(" degC  ") && line.ends_with("  met")).count();
    assert_eq!(rows, 8, "a row for each sensor: {}", run.out);
    assert!(run.out.contains("by DS18B20 datasheet (7/19) Table 1"), "{}", run.out);
    assert!(run.out.contains("\nPASSED: "), "{}", run.out);
    assert!(run.out.ends_with("exit code 0: all expectations met\n"), "{}", run.out);
    assert!(run.out.contains("caution   This is not a certified measuring instrument."), "{}", run.out);
}

#[test]
fn the_tables_of_every_step_are_there_for_the_asking() {
    let run = call(&["run", "--tables"]);
    let rows = run.out.lines().filter(|line| line.ends_with("3 of 3  met")).count();
    assert_eq!((run.code, rows), (Some(0), 8), "{}", run.out);
}

#[test]
fn every_built_in_scenario_passes() {
    for name in slotwise_scenario::BUILT_IN_SCENARIOS {
        let run = call(&["run", name, "--seed", "20240607"]);
        assert_eq!(run.code, Some(0), "{name}: {}{}", run.out, run.err);
    }
}

#[test]
fn the_seed_is_shown_and_gives_the_same_run_again() {
    let first = call(&["run"]);
    let seed = first.out.lines().find_map(|line| line.strip_prefix("seed")).expect("a line with the seed");
    let seed = seed.split_whitespace().next().expect("a number");
    let again = call(&["run", "--seed", seed]);
    assert_eq!(again.out, first.out);
    assert_ne!(call(&["run"]).out, first.out, "another seed is chosen each time");
}

#[test]
fn an_unplugged_sensor_is_named_and_fails_the_run() {
    let bench = Bench::new();
    let rig = bench.rig("ambient = \"13.5 degC\"", "ambient = \"13.5 degC\"\nconnected = false");
    let run = call(&["run", "--rig", &rig]);
    assert_eq!(run.code, Some(1), "{}{}", run.out, run.err);
    let missing = format!("NOT MET: brine bath ({BRINE_BATH}): presence: expected on the line");
    assert!(run.out.contains(&missing), "{}", run.out);
    assert!(run.out.contains("hint: others answer on the same line"), "{}", run.out);
}

#[test]
fn an_unplugged_sensor_in_the_scenario_is_named_too() {
    let bench = Bench::new();
    let file = bench.file("s.toml", &scenario(&["inject = { unplug = \"brine bath\" }", "find = {}", "measure = {}"]));
    let run = call(&["run", &file]);
    assert_eq!(run.code, Some(1), "{}{}", run.out, run.err);
    assert_eq!(run.out.matches(&format!("NOT MET: brine bath ({BRINE_BATH})")).count(), 2, "{}", run.out);
}

#[test]
fn a_far_too_weak_pull_up_breaks_the_rig_and_is_named() {
    let bench = Bench::new();
    let text = slotwise_rig::built_in_rig_text("cellar").unwrap();
    let weak = text.replacen("pull_up = \"2.2 kohm\"", "pull_up = \"47 kohm\"", 1);
    let rig = bench.file("weak.toml", &weak.replacen("cable = \"20 m\"", "cable = \"30 m\"", 1));
    let run = call(&["run", "--rig", &rig]);
    assert_eq!(run.code, Some(3), "{}{}", run.out, run.err);
    assert!(run.out.contains("hint: pull-up too weak for these sensors"), "{}", run.out);
    assert!(run.out.contains("behind 47 kohm"), "{}", run.out);
    assert!(!run.out.contains("NOT MET"), "a broken rig is no failed expectation: {}", run.out);
}

#[test]
fn a_line_that_rises_too_slowly_breaks_the_rig_and_is_named() {
    let bench = Bench::new();
    let rig = bench.rig("cable = \"20 m\"", "cable = \"200 m\"");
    let run = call(&["run", "--rig", &rig]);
    assert_eq!(run.code, Some(3), "{}{}", run.out, run.err);
    assert!(run.out.contains("BROKEN: line never idle high in time"), "{}", run.out);
    assert!(
        run.out.contains("hint: pull-up too weak for this cable: 2.2 kohm x 10210 pF (200 m of cable"),
        "{}",
        run.out
    );
}

#[test]
fn a_line_without_a_pull_up_breaks_the_rig_and_is_named() {
    let bench = Bench::new();
    let rig = bench.rig("pull_up = \"2.2 kohm\"", "pull_up = \"none\"");
    let run = call(&["run", "--rig", &rig]);
    assert_eq!(run.code, Some(3), "{}{}", run.out, run.err);
    assert!(run.out.contains("BROKEN: line stuck low"), "{}", run.out);
    assert!(run.out.contains("hint: this rig has no pull-up: fit "), "{}", run.out);
}

#[test]
fn a_broken_rig_skips_the_scenarios_that_come_after() {
    let bench = Bench::new();
    let rig = bench.rig("pull_up = \"2.2 kohm\"", "pull_up = \"none\"");
    let run = call(&["run", "cellar", "soak", "--rig", &rig]);
    assert_eq!(run.code, Some(3), "{}{}", run.out, run.err);
    assert!(run.out.contains("INTERRUPTED: 6 of 6 steps not run"), "{}", run.out);
}

#[test]
fn a_sensor_that_is_off_fails_by_how_much() {
    let bench = Bench::new();
    let rig = bench.rig("offset = \"0.05 degC\"", "offset = \"1.5 degC\"");
    let file =
        bench.file("s.toml", &scenario(&["measure = { near = { reference = \"rig\", within = \"0.5 degC\" } }"]));
    let run = call(&["run", &file, "--rig", &rig]);
    assert_eq!(run.code, Some(1), "{}{}", run.out, run.err);
    assert_eq!(run.out.matches("NOT MET: ").count(), 1, "{}", run.out);
    assert!(run.out.contains("NOT MET: brine bath"), "{}", run.out);
}

#[test]
fn bad_input_runs_nothing_and_every_bad_file_is_reported() {
    let bench = Bench::new();
    let good = bench.file("good.toml", &scenario(&["find = {}"]));
    let bad = bench.file("bad.toml", &scenario(&["find = { times = 0 }"]));
    let run = call(&["run", &good, &bad, "no-such-name", "no/such/file.toml", "--out", &bench.name("out")]);
    assert_eq!((run.code, &*run.out), (Some(2), ""));
    assert!(run.err.contains("bad.toml:4:"), "{}", run.err);
    assert!(run.err.contains("found \"no-such-name\""), "{}", run.err);
    assert!(run.err.contains("no/such/file.toml: expected a file"), "{}", run.err);
    assert!(!bench.path("out").exists());
}

#[test]
fn wrong_usage_ends_with_the_code_of_bad_input() {
    for args in [&["run", "--seed", "much"][..], &["fly"], &["read", "--watch=0s"], &["scan", "everything"]] {
        let run = call(args);
        assert_eq!(run.code, Some(2), "{args:?}: {}", run.err);
    }
    let unknown = call(&["read", "attic"]);
    assert_eq!(unknown.code, Some(2));
    assert!(unknown.err.contains("\"brine bath\""), "{}", unknown.err);
}

#[test]
fn a_misspelt_name_is_reported_with_the_nearest_one() {
    for (args, like) in [
        (&["run", "celar"][..], "hint: the nearest built-in one is \"cellar\""),
        (&["scan", "--rig", "twin"], "hint: the nearest built-in one is \"twins\""),
        (&["read", "brin bath"], "the nearest label is \"brine bath\""),
    ] {
        let run = call(args);
        assert!(run.code == Some(2) && run.err.contains(like), "{args:?}: {}", run.err);
    }
}

#[test]
fn output_is_plain_unless_it_is_asked_to_be_coloured() {
    assert!(!call(&["run"]).out.contains('\u{1b}'));
    assert!(call(&["run", "--color", "always"]).out.contains("\u{1b}[32mpassed"));
    let forbidden = crate::common::command(&["run", "--color=auto"]).env("NO_COLOR", "1").output().unwrap();
    assert!(!forbidden.stdout.contains(&0x1b));
}

#[test]
fn help_has_examples_exit_codes_and_cautions() {
    for args in [&["--help"][..], &["run", "--help"]] {
        let help = call(args);
        assert_eq!(help.code, Some(0));
        for text in ["Examples:", "  3  the rig is broken", "not a certified measuring instrument"] {
            assert!(help.out.contains(text), "{args:?}: {}", help.out);
        }
    }
}

#[test]
fn a_wrong_number_in_a_repetition_is_not_forgiven_like_a_lost_one() {
    let bench = Bench::new();
    let repeated = "repeat = { times = 4, may_fail = \"90 %\", step = [{ measure = { near = { reference = \"rig\", within = \
                    \"0.5 degC\" } } }] }";
    let file = bench.file("s.toml", &scenario(&[repeated]));
    let rig = bench.rig("offset = \"0.05 degC\"", "offset = \"1.5 degC\"");
    let run = call(&["run", &file, "--rig", &rig]);
    assert_eq!(run.code, Some(1), "{}{}", run.out, run.err);
    let first = format!("first in round 1, step 1.1: brine bath ({BRINE_BATH}), expected ");
    assert!(run.out.contains(&first), "{}", run.out);

    let lost = "inject = { bit_errors = { sensor = \"brine bath\", rate = \"100 %\" } }";
    let file = bench.file("s.toml", &scenario(&[lost, &repeated.replace("90 %", "99 %")]));
    let run = call(&["run", &file]);
    assert_eq!(run.code, Some(1), "all rounds are lost, which is more than the bound: {}", run.out);
    assert!(!run.out.contains("something wrong"), "{}", run.out);
}

#[test]
fn an_injected_fault_excuses_a_broken_rig_only_if_it_explains_it() {
    let bench = Bench::new();
    let rig = bench.rig("pull_up = \"2.2 kohm\"", "pull_up = \"none\"");
    let noise = "inject = { noise = { rate = \"1 /s\", width = \"1 us\" } }";
    for steps in [
        ["inject = { unplug = \"door\" }", "find = { expect = { except = \"door\" } }"],
        [noise, "find = {}"],
        [noise, "measure = { fails = [\"crc\", \"stuck low\"] }"],
    ] {
        let run = call(&["run", &bench.file("s.toml", &scenario(&steps)), "--rig", &rig]);
        assert_eq!(run.code, Some(3), "{steps:?}: {}{}", run.out, run.err);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn lost_output_is_reported_and_does_not_count_as_passed() {
    for args in [&["run"][..], &["scan"], &["scan", "--json"], &["read"], &["read", "--watch=100ms"]] {
        let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let output = crate::common::command(args).stdout(full).output().unwrap();
        let err = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {err}");
        assert_eq!(err.matches("error: cannot write to standard output: ").count(), 1, "{args:?}: {err}");
    }
}

#[test]
fn what_sensors_hold_is_looked_at_and_not_written() {
    let bench = Bench::new();
    let holds = |alarm: &str| format!("holds = {{ resolution = 12, alarm = {{ {alarm} }} }}");
    // TH and TL of a new part (from memory): 75 and 70.
    let factory = holds("low = \"70 degC\", high = \"75 degC\"");
    let ours = holds("low = \"2 degC\", high = \"16 degC\"");
    let configure = "configure = { alarm = { low = \"2 degC\", high = \"16 degC\" } }";
    let save = "configure = { alarm = { low = \"2 degC\", high = \"16 degC\" }, save = \"if changed\" }";
    let off = "power_cycle = { off = \"1 s\" }";
    for (steps, code) in [
        (vec![factory.as_str()], 0),
        (vec![ours.as_str()], 1),
        (vec![configure, &ours], 0),
        (vec![configure, off, &ours], 1),
        (vec![save, off, &ours], 0),
    ] {
        let run = call(&["run", &bench.file("s.toml", &scenario(&steps)), "--seed", "1"]);
        assert_eq!(run.code, Some(code), "{steps:?}: {}{}", run.out, run.err);
        if code == 1 {
            assert!(
                run.out.contains("expected 12 bits, TH 16, TL 2 (scenario), got 12 bits, TH 75, TL 70"),
                "{}",
                run.out
            );
        }
    }
    let nothing = call(&["run", &bench.file("s.toml", &scenario(&["holds = {}"]))]);
    assert_eq!(nothing.code, Some(2));
    assert!(nothing.err.contains("something that must be held: resolution or alarm"), "{}", nothing.err);
}

/// A sensor that takes 30 % longer than its datasheet allows (750 ms at 12 bits, DS18B20 datasheet (7/19), Table 2), in
/// a scenario that proves nothing and does not ask for the time: each number is the right one, and only the recorded
/// line speaks against it.
#[test]
fn a_run_that_recorded_its_line_does_not_pass_against_the_judge_of_captures() {
    let bench = Bench::new();
    let rig = bench.rig("conversion = \"76 %\"", "conversion = \"115 %\"");
    let file = bench.file("s.toml", &scenario(&["find = {}", "measure = { proof = \"none\" }"]));
    let out = bench.name("result");
    let run = call(&["run", &file, "--rig", &rig, "--seed", "1", "--out", &out]);
    assert_eq!(run.code, Some(1), "{}{}", run.out, run.err);
    assert!(run.out.contains("FAILED: 1 objection to the recorded line; 2 steps, "), "{}", run.out);
    assert!(run.out.contains("\nrecorded line: ") && run.out.contains("tCONV: still busy after"), "{}", run.out);
    let junit = std::fs::read_to_string(format!("{out}/junit.xml")).expect("a file");
    assert!(junit.contains("the judge of captures has no objection to the recorded line"), "{junit}");
    assert!(junit.contains("still busy after"), "{junit}");
    // Without a recording nothing is held against it.
    assert_eq!(call(&["run", &file, "--rig", &rig, "--seed", "1"]).code, Some(0));
}

#[test]
fn the_built_in_scenarios_pass_and_the_judge_of_captures_agrees() {
    let bench = Bench::new();
    for name in ["faults", "parasite", "twins", "ice-point"] {
        let out = bench.name(name);
        let run = call(&["run", name, "--seed", "7", "--out", &out]);
        assert_eq!(run.code, Some(0), "{name}: {}{}", run.out, run.err);
        let record: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(format!("{out}/record.json")).expect("a file"))
                .expect("JSON");
        let capture = &record["end"]["capture"];
        assert_eq!(capture["objections"].as_array().map(Vec::len), Some(0), "{name}: {capture}");
        assert!(capture["judged_ns"].as_u64() > Some(1_000_000_000), "{name}: {capture}");
    }
}
