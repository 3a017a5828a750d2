//! The files of a run, each read by an independent program.

use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::Stdio;

use crate::common::{Bench, as_its_schema_says, call, command, plan, read, scenario};
use slotwise_record::{Record, RunOutcome, StepData, StepOutcome};

fn record(path: &Path) -> Record {
    serde_json::from_str(&read(path)).expect("a record")
}

/// Holds a record against the schema that is committed.
#[track_caller]
fn assert_valid(path: &Path) {
    as_its_schema_says(&read(path), "record/src/record.schema.json");
}

#[test]
fn every_file_is_what_its_name_says() {
    let bench = Bench::new();
    let run = call(&["run", "--seed", "7", "--out", &bench.name("new/out")]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    // The day in the cellar has more edges than are kept.
    let written =
        "record.json, junit.xml, report.html and line.vcd (the end of the run only, it was too long) written to ";
    assert!(run.out.contains(written), "{}", run.out);
    let out = bench.path("new/out");
    let mut names: Vec<_> = std::fs::read_dir(&out).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    names.sort();
    assert_eq!(names, ["junit.xml", "line.vcd", "record.json", "report.html"]);

    assert_valid(&out.join("record.json"));
    let record = record(&out.join("record.json"));
    assert_eq!((record.schema_version, record.seed), (2, 7));
    assert_eq!(record.steps.len(), record.scenario.steps.len());
    assert_eq!(record.rig, slotwise_rig::built_in_rig("cellar").unwrap());

    let xml = read(&out.join("junit.xml"));
    let document = roxmltree::Document::parse(&xml).unwrap();
    let cases = document.descendants().filter(|node| node.has_tag_name("testcase")).count();
    // A case for each step, and one for what the judge of captures says of the recorded line.
    assert_eq!(cases, record.steps.len() + 1);
    assert_eq!(document.root_element().attribute("failures"), Some("0"));

    let file = std::fs::File::open(out.join("line.vcd")).unwrap();
    let mut parser = vcd::Parser::new(BufReader::new(file));
    let header = parser.parse_header().unwrap();
    assert!(header.items.len() > 1);
    let mut changes = 0;
    for command in parser {
        changes += usize::from(matches!(command.unwrap(), vcd::Command::ChangeScalar(..)));
    }
    assert!(changes > 10_000, "{changes} changes");
}

#[test]
fn records_of_every_built_in_scenario_are_valid() {
    for name in slotwise_scenario::BUILT_IN_SCENARIOS {
        let bench = Bench::new();
        call(&["run", name, "--seed", "1", "--out", &bench.name("out")]);
        assert_valid(&bench.path("out/record.json"));
        let read = slotwise_record::read_record(&bench.path("out/record.json"));
        assert!(read.is_ok(), "{name}: {:?}", read.err());
    }
}

#[test]
fn the_same_seed_gives_the_same_record_and_another_seed_another() {
    let bench = Bench::new();
    let run = |seed: &str, out: &str| {
        call(&["run", "--seed", seed, "--out", &bench.name(out)]);
        let mut record = record(&bench.path(out).join("record.json"));
        record.started_at.clear();
        record
    };
    let first = run("11", "a");
    assert!(first == run("11", "b"), "the records differ");
    let other = run("12", "c");
    assert!(first.steps != other.steps, "noise comes from the seed");
    assert_eq!(
        read(&bench.path("a").join("line.vcd")),
        read(&bench.path("b").join("line.vcd")),
        "the waveforms differ"
    );
}

#[test]
fn a_record_round_trips() {
    let bench = Bench::new();
    call(&["run", "faults", "--seed", "3", "--out", &bench.name("out")]);
    let text = read(&bench.path("out/record.json"));
    let record: Record = serde_json::from_str(&text).unwrap();
    let again = format!("{}\n", serde_json::to_string_pretty(&record).unwrap());
    assert!(again == text, "written again, the record differs");
}

#[test]
fn several_scenarios_have_a_folder_each() {
    let bench = Bench::new();
    let one = bench.file("one.toml", &scenario(&["find = {}"]));
    let two = bench.file("two.toml", &scenario(&["inject = { unplug = \"door\" }", "find = {}"]));
    let run = call(&["run", &one, &two, "--out", &bench.name("out")]);
    assert_eq!(run.code, Some(1), "{}{}", run.out, run.err);
    let outcome = |folder: &str| record(&bench.path("out").join(folder).join("record.json")).end.outcome;
    assert_eq!((outcome("1-a-test"), outcome("2-a-test")), (RunOutcome::Passed, RunOutcome::Failed));
}

#[test]
fn a_folder_with_old_results_is_refused_before_anything_runs() {
    let bench = Bench::new();
    let out = bench.name("out");
    assert_eq!(call(&["run", "--out", &out]).code, Some(0));
    let before = read(&bench.path("out/record.json"));
    let again = call(&["run", "--out", &out]);
    assert_eq!((again.code, &*again.out), (Some(2), ""));
    assert!(again.err.contains("expected a folder that is new or empty"), "{}", again.err);
    assert_eq!(read(&bench.path("out/record.json")), before);
    let file = bench.file("file", "");
    assert_eq!(call(&["run", "--out", &file]).code, Some(2));
}

#[test]
fn a_broken_rig_is_an_error_and_no_failure_in_the_files() {
    let bench = Bench::new();
    let rig = bench.rig("pull_up = \"2.2 kohm\"", "pull_up = \"none\"");
    let run = call(&["run", "cellar", "soak", "--rig", &rig, "--out", &bench.name("out")]);
    assert_eq!(run.code, Some(3), "{}{}", run.out, run.err);
    let broken = bench.path("out/1-a-day-in-the-cellar");
    assert_valid(&broken.join("record.json"));
    let xml = read(&broken.join("junit.xml"));
    let document = roxmltree::Document::parse(&xml).unwrap();
    let counts = ["failures", "errors"].map(|name| document.root_element().attribute(name).unwrap().to_owned());
    assert_eq!(counts, ["0", "1"]);
    let skipped = record(&bench.path("out/2-a-soak-in-light-noise/record.json"));
    assert!(skipped.steps.iter().all(|step| step.outcome == StepOutcome::NotRun));
}

#[cfg(unix)]
#[test]
fn a_run_that_was_killed_leaves_a_folder_that_says_so() {
    let bench = Bench::new();
    let file = bench.file("s.toml", &scenario(&["find = {}", ENDLESS]));
    let out = bench.name("out");
    let mut child = command(&["run", &file, "--out", &out]).stdout(Stdio::piped()).spawn().expect("the program starts");
    let mut text = String::new();
    BufReader::new(child.stdout.take().expect("its output")).read_line(&mut text).expect("text");
    let refused = |why: &str| {
        let other = call(&["run", "--out", &out]);
        assert_eq!((other.code, &*other.out), (Some(2), ""));
        assert!(other.err.contains(why), "{}", other.err);
    };
    refused("a run is going on there");
    child.kill().expect("it is there");
    child.wait().expect("it ends");
    refused("a run was killed there, or could not write all of its results; delete the folder");
    std::fs::remove_dir_all(bench.path("out")).unwrap();
    assert_eq!(call(&["run", "--out", &out]).code, Some(0));
}

/// A repetition far longer than any test may take.
const ENDLESS: &str = "repeat = { times = 100000, may_fail = \"0 %\", step = [{ measure = {} }, { wait = \"10 s\" }] }";

#[cfg(unix)]
fn send(signal: &str, child: &std::process::Child) {
    let status = std::process::Command::new("kill").args([signal, &child.id().to_string()]).status();
    assert!(status.expect("kill is there").success());
}

#[cfg(unix)]
fn interrupted(signal: &str) {
    let bench = Bench::new();
    let file = bench.file("s.toml", &scenario(&["find = {}", ENDLESS, "find = {}"]));
    let args = ["run", &file, "--out", &bench.name("out")];
    let mut child = command(&args).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().expect("the program starts");
    let mut out = BufReader::new(child.stdout.take().expect("its output"));
    let mut text = String::new();
    while !text.contains("passed   1 ") {
        assert!(out.read_line(&mut text).expect("text") > 0, "{text}");
    }
    // Some rounds of the second step.
    std::thread::sleep(std::time::Duration::from_millis(300));
    send(signal, &child);
    out.read_to_string(&mut text).expect("text");
    assert_eq!(child.wait().expect("it ends").code(), Some(1), "{text}");
    assert!(text.contains("\nINTERRUPTED: 1 of 3 steps not run"), "{text}");
    assert_valid(&bench.path("out/record.json"));
    let record = record(&bench.path("out/record.json"));
    let outcomes: Vec<StepOutcome> = record.steps.iter().map(|step| step.outcome).collect();
    assert_eq!(outcomes, [StepOutcome::Passed, StepOutcome::Interrupted, StepOutcome::NotRun]);
    assert_eq!(record.end.outcome, RunOutcome::Interrupted);
    let StepData::Rounds(rounds) = &record.steps[1].data else { panic!("no rounds") };
    assert!(rounds.begun > 0 && !rounds.kept.is_empty());
    let xml = read(&bench.path("out/junit.xml"));
    assert_eq!(roxmltree::Document::parse(&xml).expect("XML").root_element().attribute("errors"), Some("1"));
    assert!(bench.path("out/line.vcd").exists());
}

#[cfg(unix)]
#[test]
fn ctrl_c_leaves_a_complete_record_of_what_was_done() {
    interrupted("-INT");
}

#[cfg(unix)]
#[test]
fn a_build_server_that_ends_a_run_gets_a_complete_record_too() {
    interrupted("-TERM");
}

/// A folder with something of each kind, and links to some of it.
#[cfg(unix)]
fn filled() -> Bench {
    use std::os::unix::fs::symlink;
    let bench = Bench::new();
    bench.file("rig.toml", slotwise_rig::built_in_rig_text("cellar").expect("it is built in"));
    bench.file("short.toml", crate::common::SHORT);
    std::fs::create_dir_all(bench.path("inside/deeper")).expect("folders");
    symlink(bench.path("rig.toml"), bench.path("link.toml")).expect("a link");
    symlink("inside/deeper", bench.path("to")).expect("a link");
    std::fs::hard_link(bench.path("rig.toml"), bench.path("hard.toml")).expect("a link");
    bench
}

/// All files of a bench with their content.
#[cfg(unix)]
fn content(bench: &Bench) -> std::collections::BTreeMap<std::path::PathBuf, Vec<u8>> {
    let mut folders = vec![bench.path("")];
    let mut files = std::collections::BTreeMap::new();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
            match entry.file_type().expect("a type") {
                kind if kind.is_dir() => folders.push(entry.path()),
                kind if kind.is_file() => drop(files.insert(entry.path(), std::fs::read(entry.path()).expect("bytes"))),
                _ => {}
            }
        }
    }
    files
}

#[cfg(unix)]
#[test]
fn no_result_overwrites_what_a_call_reads_or_another_result() {
    let bench = filled();
    let name = |file: &str| bench.name(file);
    let (rig, short) = (name("rig.toml"), name("short.toml"));
    let before = content(&bench);
    let same_rig = ["rig.toml", "inside/../rig.toml", "link.toml", "hard.toml", "to/../../rig.toml"];
    let mut calls: Vec<(Vec<String>, &str)> = Vec::new();
    let mut add = |args: &[&str], found| calls.push((args.iter().map(ToString::to_string).collect(), found));
    for same in same_rig {
        add(&["study", "resolution", "--rig", &rig, "--plot", &name(same)], "found --rig ");
        add(&["run", &short, "--rig", &rig, "--history", &name(same)], "found --rig ");
        add(&["waveform", &rig, "--html", &name(same)], "found capture ");
    }
    add(&["run", &short, "--rig", &rig, "--history", &short], "found scenario ");
    add(&["run", &short, "--out", &name("new"), "--history", &name("new/record.json")], "found --history ");
    add(&["run", &short, "--out", &name("to/new"), "--history", &name("inside/deeper/new/h")], "found --history ");
    add(&["run", &short, "--rig", &rig, "--image", &rig, "--store-corrections"], "found --image ");
    add(&["identify", "--rig", &rig, "--image", &name("link.toml"), "a"], "found --image ");
    add(&["history", "--history", &name("new.sqlite"), "add", &name("to/../../new.sqlite")], "found record ");
    for (args, found) in calls {
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        let said = call(&args);
        assert_eq!((said.code, &*said.out), (Some(2), ""), "{args:?}: {}", said.err);
        assert!(said.err.contains("expected a file of its own") && said.err.contains(found), "{args:?}: {}", said.err);
        assert!(content(&bench) == before, "{args:?}: files have changed");
    }
}

#[cfg(unix)]
#[test]
fn no_night_overwrites_what_it_reads_or_its_own_results() {
    let bench = filled();
    for (keys, found) in [
        ("metrics = \"history.sqlite\"\n", "found metrics "),
        ("metrics = \"to/../../history.sqlite\"\n", "found metrics "),
        ("metrics = \"history.sqlite-wal\"\n", "found metrics "),
        ("metrics = \"rig.toml\"\n", "found rig "),
        ("metrics = \"link.toml\"\n", "found rig "),
        ("metrics = \"hard.toml\"\n", "found rig "),
        ("metrics = \"short.toml\"\n", "found scenario "),
        ("metrics = \"inside/../plan.toml\"\n", "found plan "),
        ("history = \"plan.toml\"\n", "found plan "),
        ("history = \"rig.toml\"\n", "found rig "),
        ("metrics = \"nights/latest\"\n", "reports"),
        ("metrics = \"nights/2026-03-01/junit.xml\"\n", "found reports "),
        ("history = \"nights/2026-03-01/night.json\"\n", "reports"),
    ] {
        let entry = "[[run]]\nrig = \"rig.toml\"\nscenarios = [\"short.toml\"]\n";
        plan(&bench, &format!("{keys}{entry}"));
        let before = content(&bench);
        for check in [&["--check"][..], &[]] {
            let said = call(&[&["nightly", &*bench.name("plan.toml"), "--date", "2026-03-01"], check].concat());
            assert_eq!((said.code, &*said.out), (Some(2), ""), "{keys}: {}", said.err);
            assert!(
                said.err.contains("expected a file of its own") && said.err.contains(found),
                "{keys}: {}",
                said.err
            );
            assert!(content(&bench) == before, "{keys}: files have changed");
        }
    }
}

/// A DS28EA00 needs slots of 65 us with 5 us of recovery (its datasheet, electrical table).
#[test]
fn a_timing_set_that_is_too_fast_for_a_part_is_named_before_and_after() {
    let bench = Bench::new();
    let rom = (0..=u8::MAX)
        .find_map(|crc| slotwise::bus::RomCode::new([0x42, 1, 2, 3, 4, 5, 6, crc]).ok())
        .expect("one of 256 bytes is the CRC");
    let rig = |timing: &str| {
        format!(
            "rig = \"slow\"\nkind = \"virtual\"\ntiming = \"{timing}\"\n[line]\nsupply = \"5 V\"\npull_up = \"2.2 kohm\"\ncable = \"3 m\"\n\
             ambient = \"20 degC\"\n[[sensor]]\nlabel = \"one\"\nrom = \"{rom}\"\npart = \"DS28EA00\"\npower = \"local\"\n"
        )
    };
    let file = bench.file("s.toml", &crate::common::scenario(&["find = {}", "measure = {}"]));
    let fast = bench.file("fast.toml", &rig("short line"));
    let out = bench.name("out");
    let run = call(&["run", &file, "--rig", &fast, "--seed", "1", "--out", &out]);
    assert!(run.out.contains("caution") && run.out.contains("hint: "), "{}", run.out);
    assert_eq!(run.out.matches("use the long-line set").count(), 2, "{}", run.out);
    let read = call(&["read", "--rig", &fast, "--seed", "1"]);
    assert!(read.err.contains("use the long-line set"), "{}", read.err);
    let slow = bench.file("slow.toml", &rig("long line"));
    let run = call(&["run", &file, "--rig", &slow, "--seed", "1", "--out", &bench.name("out2")]);
    assert_eq!(run.code, Some(0), "{}", run.out);
}
