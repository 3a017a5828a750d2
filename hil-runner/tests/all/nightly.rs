//! Nights as commands: killed, resumed, two at once, with broken rigs.

use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};

use crate::common::{Bench, Call, SHORT, call, command, night_of, plan, read};
use slotwise_history::{History, IfMissing, Which};
use slotwise_past::{JobState, Night, NightState};
use slotwise_record::RunOutcome;

/// A scenario with as much work as is allowed, so that it runs long enough by wall-clock time to be killed.
const LONG: &str = "scenario = \"long\"\n[[step]]\nlabel = \"on and on\"\n[step.repeat]\ntimes = 4800\n\
                    [[step.repeat.step]]\nlabel = \"find\"\nfind = { times = 50 }\n";

fn nightly(bench: &Bench, arguments: &[&str]) -> Call {
    let plan = bench.name("plan.toml");
    call(&[&["nightly", &plan, "--date", "2026-03-01"], arguments].concat())
}

fn night(bench: &Bench, name: &str) -> Night {
    Night::read(&bench.path("nights").join(name)).expect("a file that can be read").expect("a night")
}

fn runs(bench: &Bench) -> u64 {
    let history = History::open(&bench.path("history.sqlite"), IfMissing::Refuse).expect("a history");
    history.count().expect("a number")
}

/// Waits until something is so.
#[track_caller]
fn until(what: &str, is_so: impl Fn() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < Duration::from_secs(60), "never: {what}");
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn a_night_leaves_a_folder_a_history_and_a_link() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\ntimes = 3\nseed = 5\n");
    let call = nightly(&bench, &[]);
    assert_eq!(call.code, Some(0), "{}{}", call.out, call.err);
    assert!(call.out.contains("night 2026-03-01: 3 of 3 runs passed; 0 new, 0 changes"), "{}", call.out);
    let night = night(&bench, "2026-03-01");
    assert_eq!((night.state, night.jobs.len(), night.resumed), (NightState::Complete, 3, 0));
    assert!(night.jobs.iter().all(|job| job.state == JobState::Done(RunOutcome::Passed) && job.run.is_some()));
    assert_eq!(runs(&bench), 3);
    assert_eq!(std::fs::read_link(bench.path("nights/latest")).unwrap(), Path::new("2026-03-01"));
    let xml = read(&bench.path("nights/latest/junit.xml"));
    let document = roxmltree::Document::parse(&xml).unwrap();
    let suites = document.descendants().filter(|node| node.has_tag_name("testsuite")).count();
    assert_eq!(suites, 4, "three runs, and what has changed");
    // Another night of the same date is one of its own.
    assert_eq!(nightly(&bench, &[]).code, Some(0));
    assert_eq!(std::fs::read_link(bench.path("nights/latest")).unwrap(), Path::new("2026-03-01.2"));
    assert_eq!(runs(&bench), 6);
}

#[test]
fn metrics_are_open_metrics() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    let entry = "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\n";
    plan(&bench, &format!("metrics = \"for/scraper.txt\"\nhistory = \"of/all.sqlite\"\n{entry}"));
    let done = nightly(&bench, &[]);
    assert_eq!(done.code, Some(0), "folders are made: {}{}", done.out, done.err);
    assert!(bench.path("of/all.sqlite").is_file());
    let text = read(&bench.path("for/scraper.txt"));
    assert!(text.ends_with("# EOF\n"), "{text}");
    assert!(
        text.contains("slotwise_run_outcome{rig=\"cellar\",scenario=\"short.toml\",time=\"1\",is=\"passed\"} 1"),
        "{text}"
    );
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        let (_, number) = line.rsplit_once(' ').expect("a name and a number");
        assert!(number.parse::<f64>().is_ok(), "{line}");
    }
}

#[test]
fn a_check_finds_what_could_not_be_written() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    plan(&bench, "metrics = \"short.toml/m.txt\"\n[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\n");
    let check = nightly(&bench, &["--check"]);
    assert_eq!(check.code, Some(2), "{}{}", check.out, check.err);
    assert!(
        check.err.contains("metrics: cannot write ") && check.err.contains("short.toml is no folder"),
        "{}",
        check.err
    );
    assert!(!check.out.contains("can be run"), "{}", check.out);
}

#[test]
fn a_broken_or_refused_run_does_not_stop_the_others() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    bench.file("bad.toml", "scenario = 3\n");
    let stuck = slotwise_rig::built_in_rig_text("cellar").unwrap();
    bench.file("stuck.toml", &stuck.replace("2.2 kohm", "470 kohm"));
    plan(
        &bench,
        "[[run]]\nrig = \"nowhere.toml\"\nscenarios = [\"short.toml\"]\n\
         [[run]]\nrig = \"stuck.toml\"\nscenarios = [\"short.toml\"]\n\
         [[run]]\nrig = \"cellar\"\nscenarios = [\"bad.toml\", \"short.toml\"]\n",
    );
    let check = nightly(&bench, &["--check"]);
    assert_eq!(check.code, Some(2), "{}{}", check.out, check.err);
    assert!(check.err.contains("nowhere.toml") && check.err.contains("bad.toml:1:"), "{}", check.err);
    let call = nightly(&bench, &[]);
    assert_eq!(call.code, Some(3), "the broken rig weighs most: {}{}", call.out, call.err);
    let states: Vec<JobState> = night(&bench, "2026-03-01").jobs.into_iter().map(|job| job.state).collect();
    assert!(matches!(&states[0], JobState::Refused(why) if why.contains("nowhere.toml")), "{states:?}");
    assert_eq!(states[1], JobState::Done(RunOutcome::Broken));
    assert!(matches!(&states[2], JobState::Refused(why) if why.contains("bad.toml:1:")), "{states:?}");
    assert_eq!(states[3], JobState::Done(RunOutcome::Passed));
    assert_eq!(runs(&bench), 2, "the broken one is in the history as well");
    let metrics = read(&bench.path("nights/metrics.txt"));
    for (rig, is, number) in [("nowhere.toml", "refused", 1), ("nowhere.toml", "lost", 0), ("stuck.toml", "broken", 1)]
    {
        let line =
            format!("slotwise_run_outcome{{rig=\"{rig}\",scenario=\"short.toml\",time=\"1\",is=\"{is}\"}} {number}");
        assert!(metrics.contains(&line), "{line}: {metrics}");
    }
}

#[test]
fn a_run_that_takes_too_long_is_stopped_and_the_next_one_runs() {
    let bench = Bench::new();
    bench.file("long.toml", LONG);
    bench.file("short.toml", SHORT);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"long.toml\", \"short.toml\"]\nat_most = \"1 s\"\n");
    let call = nightly(&bench, &["--at-once", "1"]);
    assert_eq!(call.code, Some(1), "{}{}", call.out, call.err);
    let night = night(&bench, "2026-03-01");
    assert_eq!(night.jobs[0].state, JobState::Done(RunOutcome::Interrupted));
    assert_eq!(night.jobs[1].state, JobState::Done(RunOutcome::Passed));
}

#[test]
fn a_night_that_is_killed_goes_on_and_counts_nothing_twice() {
    let bench = Bench::new();
    bench.file("long.toml", LONG);
    bench.file("short.toml", SHORT);
    plan(
        &bench,
        "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\ntimes = 2\n\
         [[run]]\nrig = \"cellar\"\nscenarios = [\"long.toml\"]\nat_most = \"2 s\"\n",
    );
    let plan = bench.name("plan.toml");
    let mut child = command(&["nightly", &plan, "--date", "2026-03-01", "--at-once", "1"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let folder = bench.path("nights/2026-03-01");
    until("the long run goes on", || {
        Night::read(&folder).ok().flatten().is_some_and(|night| night.jobs[2].state == JobState::GoingOn)
    });
    let long = folder.join("3-cellar-long");
    until("it has begun", || long.join(".run-going-on").exists());
    child.kill().unwrap();
    child.wait().unwrap();
    // No process is left behind: the run ends with the night that started it.
    until("the run has ended", || !long.join(".run-going-on").exists());
    assert_eq!(night(&bench, "2026-03-01").state, NightState::GoingOn);
    let half =
        std::fs::metadata(long.join("record.json")).expect("it has written what it had").modified().expect("a time");

    let call = nightly(&bench, &["--at-once", "1"]);
    assert!(call.err.contains("night 2026-03-01 goes on where it was killed"), "{}", call.err);
    let after = night(&bench, "2026-03-01");
    assert_eq!((after.state, after.resumed), (NightState::Complete, 1));
    assert!(after.jobs.iter().all(|job| matches!(job.state, JobState::Done(_))), "{after:?}");
    let whole = std::fs::metadata(long.join("record.json")).expect("a record").modified().expect("a time");
    assert!(whole > half, "half a run is none: it was run anew");
    assert_eq!(runs(&bench), 3, "each run once");
    let history = History::open(&bench.path("history.sqlite"), IfMissing::Refuse).unwrap();
    let of_night = Which { night: Some("2026-03-01".into()), ..Which::default() };
    assert_eq!(history.runs(&of_night).unwrap().len(), 3);
}

#[test]
fn a_killed_night_of_another_date_is_closed_and_what_it_did_counts() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\ntimes = 2\n");
    assert_eq!(nightly(&bench, &[]).code, Some(0));
    // As if it had been killed before its second run, and before the first one was in the history.
    let folder = bench.path("nights/2026-03-01");
    let mut killed = night(&bench, "2026-03-01");
    killed.state = NightState::GoingOn;
    killed.jobs[0].state = JobState::GoingOn;
    killed.jobs[0].run = None;
    killed.jobs[1].state = JobState::Waiting;
    killed.jobs[1].run = None;
    killed.write(&folder).unwrap();
    std::fs::remove_file(bench.path("history.sqlite")).unwrap();
    let plan = bench.name("plan.toml");
    let call = call(&["nightly", &plan, "--date", "2026-03-02"]);
    assert_eq!(call.code, Some(0), "{}{}", call.out, call.err);
    assert!(call.err.contains("night 2026-03-01 was killed, and is closed"), "{}", call.err);
    let closed = night(&bench, "2026-03-01");
    assert_eq!(closed.state, NightState::Closed);
    assert_eq!(closed.jobs[0].state, JobState::Done(RunOutcome::Passed));
    assert!(matches!(closed.jobs[1].state, JobState::NotDone(_)));
    assert_eq!(runs(&bench), 3, "one of the killed night, two of the other");
}

#[test]
fn two_nights_into_one_folder_take_turns() {
    let bench = Bench::new();
    bench.file("long.toml", LONG);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"long.toml\"]\nat_most = \"3 s\"\n");
    let plan = bench.name("plan.toml");
    let mut child = command(&["nightly", &plan]).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    until("it has begun", || bench.path("nights/.lock").exists() && bench.path("history.sqlite").exists());
    let second = call(&["nightly", &plan]);
    assert_eq!(second.code, Some(2), "{}{}", second.out, second.err);
    assert!(second.err.contains("another night is going on there"), "{}", second.err);
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn a_damaged_history_stops_no_night_and_can_be_made_anew() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    bench.file("history.sqlite", &"no database".repeat(1000));
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\ntimes = 2\n");
    let call = nightly(&bench, &[]);
    assert_eq!(call.code, Some(2), "{}{}", call.out, call.err);
    assert!(call.err.contains("damaged") && call.err.contains("hil-runner history add"), "{}", call.err);
    assert_eq!(night(&bench, "2026-03-01").state, NightState::Complete);
    std::fs::rename(bench.path("history.sqlite"), bench.path("history.sqlite.damaged")).unwrap();
    let records: Vec<String> = night(&bench, "2026-03-01")
        .jobs
        .iter()
        .map(|job| bench.name(&format!("nights/2026-03-01/{}/record.json", job.folder)))
        .collect();
    let history = bench.name("history.sqlite");
    let added = crate::common::call(&["history", "--history", &history, "add", &records[0], &records[1]]);
    assert_eq!((added.code, &*added.out), (Some(0), "2 runs added, 0 were there already\n"), "{}", added.err);
    let again = crate::common::call(&["history", "--history", &history, "add", &records[0]]);
    assert_eq!((again.code, &*again.out), (Some(0), "0 runs added, 1 were there already\n"));
    let list = crate::common::call(&["history", "--history", &history, "list", "--night", "2026-03-01"]);
    assert!(list.out.contains("2 runs of 2"), "{}", list.out);
}

#[test]
fn a_night_that_cannot_be_read_says_what_to_do() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\n");
    assert_eq!(nightly(&bench, &[]).code, Some(0));
    let file = bench.path("nights/2026-03-01/night.json");
    let text = read(&file);
    let newer = text.replacen("\"schema_version\": 3", "\"schema_version\": 99", 1);
    for (text, why) in
        [(&text[..text.len() / 2], "is damaged"), (&newer, "has form 99, and this tool knows forms 1 to 3")]
    {
        std::fs::write(&file, text).unwrap();
        let call = nightly(&bench, &[]);
        assert_eq!(call.code, Some(2), "{}{}", call.out, call.err);
        let folder = bench.name("nights/2026-03-01");
        let hint = format!("mv {folder} {folder}.aside");
        assert!(call.err.contains(why) && call.err.contains("hint: ") && call.err.contains(&hint), "{}", call.err);
        assert_eq!(night_of(&bench, 2).code, Some(0), "another date is not blocked");
    }
    std::fs::rename(bench.path("nights/2026-03-01"), bench.path("nights/2026-03-01.aside")).unwrap();
    assert_eq!(nightly(&bench, &[]).code, Some(0));
}

#[test]
fn every_link_of_a_night_leads_somewhere() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\", \"faults\"]\n");
    nightly(&bench, &[]);
    let page = read(&bench.path("nights/latest/index.html"));
    let targets = page.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next());
    let files: Vec<&str> = targets.filter(|target| !target.starts_with('#') && !target.starts_with("data:")).collect();
    assert_eq!(files.len(), 4, "report and record of two runs: {files:?}");
    for file in files {
        assert!(bench.path(&format!("nights/latest/{file}")).is_file(), "{file}");
    }
    for target in page.split("href=\"#").skip(1).filter_map(|rest| rest.split('"').next()) {
        assert!(page.contains(&format!("id=\"{target}\"")), "{target}");
    }
}

#[cfg(unix)]
mod example {
    use std::path::PathBuf;

    use super::*;

    const EXAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/nightly");

    /// A copy of the example, somewhere else.
    fn copied() -> Bench {
        let bench = Bench::new();
        for entry in std::fs::read_dir(EXAMPLE).expect("a folder") {
            let entry = entry.expect("a file");
            std::fs::copy(entry.path(), bench.path(entry.file_name().to_str().expect("text"))).expect("a copy");
        }
        bench
    }

    fn job(bench: &Bench, program: Option<&Path>) -> std::process::Output {
        let mut job = std::process::Command::new("/bin/sh");
        job.arg(bench.path("ci-job.sh")).env("PATH", "/usr/bin:/bin").env_remove("HIL_RUNNER").env_remove("KEEP");
        if let Some(program) = program {
            job.env("HIL_RUNNER", program);
        }
        job.output().expect("a shell")
    }

    #[test]
    fn the_job_runs_from_a_copy_and_says_what_it_lacks() {
        let bench = copied();
        bench.file("short.toml", SHORT);
        plan(&bench, "history = \"history.sqlite\"\n[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\n");
        let lacking = job(&bench, None);
        let text = String::from_utf8_lossy(&lacking.stderr).into_owned();
        assert_eq!(lacking.status.code(), Some(2), "{text}");
        assert!(text.contains("there is no program hil-runner: build it"), "{text}");
        let program = PathBuf::from(env!("CARGO_BIN_EXE_hil-runner"));
        let done = job(&bench, Some(&program));
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        assert!(bench.path("nights/latest/junit.xml").is_file());
    }

    #[test]
    fn the_plan_can_be_run_with_the_entry_for_a_real_rig_as_well() {
        let bench = copied();
        let text = read(&bench.path("plan.toml"));
        let (head, entry) = text.split_once("# [[run]]").expect("an entry that is no comment once");
        bench.file("plan.toml", &format!("{head}[[run]]{}", entry.replace("\n# ", "\n")));
        for (from, to) in [("rigs/bench.toml", "bench.toml"), ("scenarios/bench.toml", "first-look.toml")] {
            let from = format!("{}/../fixtures/{from}", env!("CARGO_MANIFEST_DIR"));
            std::fs::copy(from, bench.path(to)).expect("a copy");
        }
        let called = nightly(&bench, &["--check"]);
        assert!(called.code == Some(0) && called.out.contains("6 runs a night, all can be run"), "{called:?}");
    }

    /// What the steps install is where the unit looks for it.
    #[test]
    fn the_unit_agrees_with_the_steps_that_install_it() {
        let text = read(&Path::new(EXAMPLE).join("slotwise-nightly.service"));
        let value =
            |key: &str| text.lines().find_map(|line| line.strip_prefix(key)).expect("a key of the unit").to_owned();
        let (folder, program) = (value("WorkingDirectory="), value("ExecStart="));
        let (program, arguments) = program.split_once(' ').expect("arguments");
        let steps: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("#   ")).collect();
        let installs = |what: &str, to: &str| steps.iter().any(|step| step.contains(&format!(" {what} {to}/")));
        let plan = arguments.split(' ').next_back().expect("a plan");
        let (place, name) = program.rsplit_once('/').expect("a path");
        assert!(installs(plan, &folder) && installs(&format!(".../target/release/{name}"), place), "{steps:?}");
        assert!(
            steps.iter().any(|step| step.contains(&format!("useradd --system --home-dir {folder} {}", value("User="))))
        );
    }
}
