//! Nights that were stopped, or killed while their runs went on, and begun again.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

use crate::common::{Bench, SHORT, command, night_of, plan};
use rustix::process::{Pid, Signal, kill_process};
#[cfg(target_os = "linux")]
use rustix::process::{WaitOptions, set_child_subreaper, waitpid};
use slotwise_history::{History, IfMissing, Which};
use slotwise_past::{JobState, Night, NightState};
use slotwise_record::RunOutcome;

/// A scenario that takes longer than any test, with as much work as is allowed.
const LONG: &str = "scenario = \"long\"\n[[step]]\nlabel = \"on and on\"\n[step.repeat]\ntimes = 4800\n\
                    [[step.repeat.step]]\nlabel = \"find\"\nfind = { times = 50 }\n";

const NIGHT: &str = "2026-03-01";

fn begin(bench: &Bench, date: &str) -> Child {
    command(&["nightly", &bench.name("plan.toml"), "--date", date, "--at-once", "1"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts")
}

fn night(bench: &Bench) -> Night {
    Night::read(&bench.path("nights").join(NIGHT)).expect("a file that can be read").expect("a night")
}

#[track_caller]
fn until(what: &str, is_so: impl Fn() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < Duration::from_secs(120), "never: {what}");
        std::thread::sleep(Duration::from_millis(10));
    }
}

/// Waits until this run of the night is under way.
fn until_under_way(bench: &Bench, place: usize, folder: &str) {
    let nights = bench.path("nights").join(NIGHT);
    until("it goes on", || {
        Night::read(&nights).ok().flatten().is_some_and(|night| night.jobs[place].state == JobState::GoingOn)
    });
    until("it has its folder", || nights.join(folder).join(".run-going-on").exists());
}

/// The runs in the history, and those of the night among them.
fn counted(bench: &Bench) -> (u64, usize) {
    let history = History::open(&bench.path("history.sqlite"), IfMissing::Refuse).expect("a history");
    let of_night = Which { night: Some(NIGHT.into()), ..Which::default() };
    (history.count().expect("a number"), history.runs(&of_night).expect("runs").len())
}

#[test]
fn a_night_that_is_stopped_goes_on_when_it_is_begun_again_on_its_date() {
    let bench = Bench::new();
    bench.file("long.toml", LONG);
    bench.file("short.toml", SHORT);
    plan(
        &bench,
        "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\", \"long.toml\", \"short.toml\"]\nat_most = \"2 s\"\n",
    );
    let mut child = begin(&bench, NIGHT);
    until_under_way(&bench, 1, "2-cellar-long");
    kill_process(Pid::from_child(&child), Signal::TERM).expect("it is there");
    assert_eq!(child.wait().expect("it ends").code(), Some(1));
    let stopped = night(&bench);
    assert_eq!(stopped.state, NightState::Stopped);
    assert_eq!(stopped.jobs[0].state, JobState::Done(RunOutcome::Passed));
    for job in &stopped.jobs[1..] {
        assert!(matches!(&job.state, JobState::NotDone(why) if why == "the night was stopped"), "{stopped:?}");
    }
    assert!(bench.path("nights/latest/index.html").exists(), "it has its reports");
    assert_eq!(counted(&bench), (1, 1), "half a run is none");

    let again = night_of(&bench, 1);
    assert_eq!(again.code, Some(1), "{}{}", again.out, again.err);
    assert!(again.err.contains("night 2026-03-01 goes on where it was stopped"), "{}", again.err);
    let after = night(&bench);
    assert_eq!((after.state, after.resumed), (NightState::Complete, 1));
    assert_eq!(after.jobs[1].state, JobState::Done(RunOutcome::Interrupted), "it took longer than it may");
    assert_eq!(after.jobs[2].state, JobState::Done(RunOutcome::Passed));
    assert_eq!(counted(&bench), (3, 3), "each run once");
    assert!(!bench.path("nights/2026-03-01.2").exists());
}

#[test]
fn a_night_that_is_stopped_is_closed_by_that_of_another_date() {
    let bench = Bench::new();
    bench.file("long.toml", LONG);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"long.toml\"]\nat_most = \"1 s\"\n");
    let mut child = begin(&bench, NIGHT);
    until_under_way(&bench, 0, "1-cellar-long");
    kill_process(Pid::from_child(&child), Signal::TERM).expect("it is there");
    child.wait().expect("it ends");
    let next = night_of(&bench, 2);
    assert!(next.err.contains("night 2026-03-01 was stopped, and is closed"), "{}", next.err);
    assert_eq!(night(&bench).state, NightState::Closed);
}

/// The processes that this one has started.
#[cfg(target_os = "linux")]
fn children_of(parent: u32) -> Vec<i32> {
    let processes = std::fs::read_dir("/proc").expect("/proc").flatten();
    let is_child = |pid: &i32| {
        // Its parent stands behind its name, which is in brackets, and its state (proc(5)).
        let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap_or_default();
        let parent_of_it = stat.rsplit_once(')').and_then(|(_, rest)| rest.split_whitespace().nth(1)?.parse().ok());
        parent_of_it == Some(parent)
    };
    processes.filter_map(|entry| entry.file_name().to_str()?.parse().ok()).filter(is_child).collect()
}

/// As a service manager does that stops all programs of a unit.
#[cfg(target_os = "linux")]
#[test]
fn a_run_that_the_signal_reaches_before_its_night_is_done_again() {
    let bench = Bench::new();
    bench.file("long.toml", LONG);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"long.toml\"]\nat_most = \"2 s\"\n");
    let mut child = begin(&bench, NIGHT);
    until_under_way(&bench, 0, "1-cellar-long");
    let [run] = children_of(child.id())[..] else { panic!("one run at once") };
    kill_process(Pid::from_raw(run).expect("a process"), Signal::TERM).expect("it is there");
    until("the run has ended", || !bench.path("nights/2026-03-01/1-cellar-long/.run-going-on").exists());
    kill_process(Pid::from_child(&child), Signal::TERM).expect("it is there");
    assert_eq!(child.wait().expect("it ends").code(), Some(1));
    let stopped = night(&bench);
    assert_eq!(stopped.state, NightState::Stopped);
    assert_eq!(stopped.jobs[0].state, JobState::NotDone("the night was stopped".into()));
    night_of(&bench, 1);
    assert_eq!(night(&bench).state, NightState::Complete);
    assert_eq!(counted(&bench), (1, 1));
}

/// A run that was halted. It does not outlive its test.
#[cfg(target_os = "linux")]
struct Halted(Pid);

#[cfg(target_os = "linux")]
impl Halted {
    fn go_on(&self) {
        kill_process(self.0, Signal::CONT).expect("it is there");
    }
}

#[cfg(target_os = "linux")]
impl Drop for Halted {
    fn drop(&mut self) {
        let _ = kill_process(self.0, Signal::KILL);
        let _ = waitpid(Some(self.0), WaitOptions::empty());
    }
}

/// A run that hangs while its night is killed: it cannot see yet that it is to end.
#[cfg(target_os = "linux")]
fn killed_with_a_run_that_hangs(bench: &Bench) -> Halted {
    // Orphans become children of this process. Without a parent in its session a group that is halted goes on by itself
    // (POSIX.1-2024, _exit(): orphaned process groups).
    set_child_subreaper(Some(rustix::process::getpid())).expect("Linux has it");
    bench.file("long.toml", LONG);
    plan(bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"long.toml\"]\nat_most = \"2 s\"\n");
    let mut child = begin(bench, NIGHT);
    until_under_way(bench, 0, "1-cellar-long");
    let [run] = children_of(child.id())[..] else { panic!("one run at once") };
    let run = Halted(Pid::from_raw(run).expect("a process"));
    kill_process(run.0, Signal::STOP).expect("it is there");
    child.kill().expect("it is there");
    child.wait().expect("it ends");
    run
}

#[cfg(target_os = "linux")]
#[test]
fn a_night_waits_for_the_runs_of_one_that_was_killed_and_counts_each_once() {
    let bench = Bench::new();
    let run = killed_with_a_run_that_hangs(&bench);
    let mut next = begin(&bench, NIGHT);
    let mut lines = BufReader::new(next.stderr.take().expect("its errors")).lines().map_while(Result::ok);
    let waits = "night 2026-03-01 was killed and 1 run of it still goes on: waiting, 0 s of at most 60 s";
    assert!(lines.any(|line| line == waits), "it says that it waits");
    assert!(lines.any(|line| line.contains("waiting, 2 s of")), "and goes on to say so");
    assert_eq!(night(&bench).resumed, 0, "nothing is touched meanwhile");
    run.go_on();
    let rest: Vec<String> = lines.collect();
    assert!(rest.iter().any(|line| line == "night 2026-03-01 goes on where it was killed"), "{rest:?}");
    assert_eq!(next.wait().expect("it ends").code(), Some(1), "{rest:?}");
    let after = night(&bench);
    assert_eq!(after.jobs[0].state, JobState::Done(RunOutcome::Interrupted), "it took longer than it may");
    assert_eq!(counted(&bench), (1, 1));
    let record = bench.name("nights/2026-03-01/1-cellar-long/record.json");
    let added = crate::common::call(&["history", "--history", &bench.name("history.sqlite"), "add", &record]);
    assert_eq!(added.out, "0 runs added, 1 were there already\n", "{}", added.err);
    assert!(Path::new(&record).exists());
}

#[cfg(target_os = "linux")]
#[test]
fn a_night_that_is_stopped_while_it_waits_touches_nothing() {
    let bench = Bench::new();
    let run = killed_with_a_run_that_hangs(&bench);
    for date in [NIGHT, "2026-03-02"] {
        let mut next = begin(&bench, date);
        let mut lines = BufReader::new(next.stderr.take().expect("its errors")).lines().map_while(Result::ok);
        let first = lines.next();
        assert!(first.as_ref().is_some_and(|line| line.contains("still goes on: waiting")), "{first:?}");
        kill_process(Pid::from_child(&next), Signal::TERM).expect("it is there");
        let rest: Vec<String> = lines.collect();
        assert!(rest.iter().any(|line| line.contains("nothing was run")), "{rest:?}");
        assert_eq!(next.wait().expect("it ends").code(), Some(1), "{rest:?}");
    }
    assert_eq!(night(&bench).state, NightState::GoingOn);
    run.go_on();
    until("it has ended", || !bench.path("nights/2026-03-01/1-cellar-long/.run-going-on").exists());
}
