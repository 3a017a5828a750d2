//! A computer that runs short: of disk, of file handles, of memory. No run and no night may look passed or call the rig
//! broken.

use std::process::{Command, Stdio};
use std::time::Duration;

use crate::adapter::{Adapter, Trouble};
use crate::common::{Bench, Call, SHORT, plan, read, scenario};
use slotwise_past::{JobState, Night, NightState};
use slotwise_record::RunOutcome;

/// Calls the program under a limit of the shell, such as `-f 2048` for files of at most 2048 blocks of 512 bytes.
fn limited(limit: &str, args: &[&str]) -> Call {
    let output = Command::new("/bin/sh")
        .args(["-c", &format!("ulimit {limit}; exec \"$0\" \"$@\""), env!("CARGO_BIN_EXE_hil-runner")])
        .args(args)
        .stdin(Stdio::null())
        .output()
        .expect("a shell");
    Call {
        code: output.status.code(),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

fn night(bench: &Bench) -> Option<Night> {
    Night::read(&bench.path("nights/2026-03-01")).expect("a file that can be read")
}

/// The waveform of `faults` has 2.9 MB; no other file of these runs has 1 MiB.
const ONE_MIB: &str = "-f 2048";

#[test]
fn a_run_that_lost_results_is_lost_with_its_cause_and_so_is_its_night() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\", \"faults\"]\nseed = 3\n");
    let called = limited(ONE_MIB, &["nightly", &bench.name("plan.toml"), "--date", "2026-03-01"]);
    assert_eq!(called.code, Some(2), "{}{}", called.out, called.err);
    let night = night(&bench).expect("a night");
    assert_eq!(night.jobs[0].state, JobState::Done(RunOutcome::Passed));
    let JobState::Lost(why) = &night.jobs[1].state else { panic!("{night:?}") };
    assert!(why.contains("line.vcd: File too large"), "{why}");
    assert_eq!(night.jobs[1].run, None, "no history counts it");
    let page = read(&bench.path("nights/latest/index.html"));
    assert!(page.contains("LOST") && page.contains("line.vcd: File too large"));
    for file in page.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
        let is_file = !file.starts_with('#') && !file.starts_with("data:");
        assert!(!is_file || bench.path(&format!("nights/latest/{file}")).is_file(), "{file}");
    }
}

#[test]
fn a_run_that_reaches_the_limit_of_a_file_says_so_and_leaves_its_folder_marked() {
    let bench = Bench::new();
    let called = limited(ONE_MIB, &["run", "faults", "--seed", "3", "--out", &bench.name("out")]);
    assert_eq!(called.code, Some(2), "{}{}", called.out, called.err);
    assert!(
        called.err.contains("error: cannot write ") && called.err.contains("line.vcd: File too large"),
        "{}",
        called.err
    );
    let names: Vec<_> = std::fs::read_dir(bench.path("out")).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert!(names.contains(&".run-going-on".into()) && !names.contains(&"line.vcd".into()), "{names:?}");
    let again = crate::common::call(&["run", "faults", "--out", &bench.name("out")]);
    assert!(again.err.contains("a run was killed there, or could not write all of its results"), "{}", again.err);
}

#[test]
fn a_run_with_lost_results_has_not_passed() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\ntimes = 2\n");
    assert_eq!(crate::common::night_of(&bench, 1).code, Some(0));
    // As if it had been killed before its end, and its folder had been deleted to make room.
    let folder = bench.path("nights/2026-03-01");
    let mut killed = night(&bench).expect("a night");
    killed.state = NightState::GoingOn;
    killed.ended_at = None;
    killed.write(&folder).unwrap();
    std::fs::remove_dir_all(folder.join("1-cellar-short")).unwrap();
    let called = crate::common::night_of(&bench, 1);
    assert_eq!(called.code, Some(2), "{}{}", called.out, called.err);
    let after = night(&bench).expect("a night");
    assert!(matches!(&after.jobs[0].state, JobState::Lost(why) if why.contains("its results are gone")), "{after:?}");
    assert!(!read(&folder.join("index.html")).contains("1-cellar-short/record.json"));
}

#[test]
fn too_few_file_handles_count_neither_as_passed_nor_as_a_broken_rig() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\ntimes = 3\n");
    let (mut named, mut passed) = (0, 0);
    for handles in 4..=40 {
        let called = limited(&format!("-n {handles}"), &["nightly", &bench.name("plan.toml"), "--date", "2026-03-01"]);
        let text = format!("{handles} handles: {}{}", called.out, called.err);
        match called.code {
            Some(0) => {
                passed += 1;
                let night = night(&bench).expect("a night");
                assert_eq!(night.state, NightState::Complete, "{text}");
            }
            Some(2) => named += usize::from(text.contains("Too many open files")),
            _ => panic!("{text}"),
        }
        for folder in ["nights", "history.sqlite"] {
            let _ = std::fs::remove_dir_all(bench.path(folder));
            let _ = std::fs::remove_file(bench.path(folder));
        }
    }
    assert!(named >= 3 && passed >= 3, "{named} named, {passed} passed");
}

#[test]
fn a_port_that_cannot_be_opened_for_want_of_handles_is_no_broken_rig() {
    let (adapter, bench) = (Adapter::plug_in(Trouble::None, Duration::ZERO), Bench::new());
    let rig = bench.file("serial.toml", &adapter.rig());
    let file = bench.file("s.toml", &scenario(&["find = {}"]));
    let mut named = 0;
    for handles in 4..=12 {
        // The history takes some of them, the results another.
        let history = bench.name(&format!("{handles}.sqlite"));
        let called = limited(&format!("-n {handles}"), &["run", &file, "--rig", &rig, "--history", &history]);
        assert_ne!(called.code, Some(3), "{handles} handles: {called:?}");
        assert!(called.code == Some(0) || called.err.contains("Too many open files"), "{handles} handles: {called:?}");
        named += usize::from(called.err.contains("the cause is this computer, not the rig"));
    }
    assert!(named >= 1, "{named}");
}

#[cfg(target_os = "linux")]
#[test]
fn a_failed_allocation_is_reported_and_ends_with_code_2() {
    let bench = Bench::new();
    // As a value in memory it has many times the 40 MB of its text.
    let record = bench.file("large.json", &format!("[{}0]", "0,".repeat(20_000_000)));
    let history = bench.name("history.sqlite");
    let called = limited("-v 300000", &["history", "--history", &history, "add", &record]);
    assert_eq!(called.code, Some(2), "{called:?}");
    assert!(called.err.contains("memory allocation of ") && called.err.contains(" bytes failed"), "{}", called.err);
}
