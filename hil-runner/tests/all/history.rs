//! Queries of a history as commands, and files that are no records.

use crate::common::{Bench, call, read};

const SCENARIO: &str = "scenario = \"look\"\n[[step]]\nlabel = \"find\"\nfind = { times = 2 }\n[[step]]\nlabel = \"measure\"\n\
                        measure = { convert = \"one by one\", in_time = true }\n";

/// A history of three runs, of which the last has a sensor that is wrong.
fn filled(bench: &Bench) -> String {
    let scenario = bench.file("look.toml", SCENARIO);
    let history = bench.name("history.sqlite");
    for number in 1..=3 {
        let out = bench.name(&format!("out-{number}"));
        let run = call(&["run", &scenario, "--rig", "cellar", "--seed", "3", "--out", &out, "--history", &history]);
        assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
        let compared = format!("run {number} of the history, compared with {} run", number - 1);
        assert!(run.out.contains(&compared), "{}", run.out);
    }
    history
}

#[test]
fn runs_are_listed_shown_compared_and_followed() {
    let bench = Bench::new();
    let history = filled(&bench);
    let ask = |question: &[&str]| {
        let answer = call(&[&["history", "--history", &history], question].concat());
        assert_eq!(answer.code, Some(0), "{question:?}: {}{}", answer.out, answer.err);
        answer.out
    };
    assert!(ask(&["list", "--most", "2"]).contains("2 runs of 3, the newest first"));
    assert!(ask(&["list", "--outcome", "failed"]).contains("no such run among 3 runs"));
    let shown = ask(&["show", "2"]);
    assert!(shown.contains("PASSED") && shown.contains("brine bath") && shown.contains("conversion time"), "{shown}");
    // The same seed: nothing differs but the time of day.
    let compared = ask(&["compare", "1", "3"]);
    assert!(compared.contains("steps: 2 the same, 0 not") && compared.contains("+0.0 %"), "{compared}");
    let followed = ask(&["follow", "brine bath"]);
    assert!(followed.contains("28:2F77DB9A6005:02") && followed.contains("1 day"), "{followed}");
    assert_eq!(ask(&["follow", "28:2f77db9a6005:02"]), followed, "by its ROM code, in small letters");
    assert!(ask(&["changes"]).contains("nothing has changed"));
    assert!(ask(&["check"]).contains("sound, 3 runs"));
}

#[test]
fn exports_are_read_by_other_programs() {
    let bench = Bench::new();
    let history = filled(&bench);
    let export = |what: &str, form: &str| {
        let answer = call(&["history", "--history", &history, "export", what, "--as", form]);
        assert_eq!(answer.code, Some(0), "{}", answer.err);
        answer.out
    };
    for (what, rows) in [("runs", 3), ("readings", 24)] {
        let text = export(what, "csv");
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        assert_eq!(&reader.headers().expect("a heading")[0], "run");
        assert_eq!(reader.records().filter_map(Result::ok).count(), rows, "{what}");
        let lines = export(what, "json-lines");
        let objects: Vec<serde_json::Value> =
            lines.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
        assert_eq!(objects.len(), rows);
        assert!(objects.iter().all(|object| object["rig"] == "cellar"), "{what}");
    }
    assert!(export("figures", "csv").contains("conversion-time"));
}

#[test]
fn what_is_no_record_is_refused_and_the_others_are_added() {
    let bench = Bench::new();
    let old = filled(&bench);
    let record = bench.name("out-1/record.json");
    let text = read(&bench.path("out-1/record.json"));
    let hostile = bench.file("hostile.json", &text.replacen("brine bath", "\\u001b[2J", 1));
    let newer = bench.file("newer.json", &text.replacen("\"schema_version\": 2", "\"schema_version\": 99", 1));
    let half = bench.file("half.json", &text[..text.len() / 2]);
    let step = |place: &str| text.replacen("\"place\": [\n        1\n      ]", &format!("\"place\": [{place}]"), 1);
    let nowhere = bench.file("nowhere.json", &step("0"));
    let twice = bench.file("twice.json", &step("2"));
    let same = bench.file("same.json", &text.replace("28:2F77DB9A6005:02", "28:17B86E5D2903:CE"));
    let history = bench.name("new.sqlite");
    let add = call(&[
        "history",
        "--history",
        &history,
        "add",
        &hostile,
        &newer,
        &half,
        &nowhere,
        &twice,
        &same,
        &record,
        "/nowhere",
    ]);
    assert_eq!(add.code, Some(2), "{}", add.out);
    assert!(add.out.contains("1 runs added") || add.out.contains("1 run added"), "{}", add.out);
    let places = ["nowhere.json: no record of a run: step \"find\" has the place \"0\"", "has the place \"2\""];
    let others = ["a terminal obeys", "form 99", "half.json: no record of a run", "cannot be read", "CE twice"];
    for why in places.into_iter().chain(others) {
        assert!(add.err.contains(why), "{why}: {}", add.err);
    }
    assert!(!add.err.contains('\u{1b}') && old != history);
}

#[test]
fn questions_that_make_no_sense_are_named() {
    let bench = Bench::new();
    let history = filled(&bench);
    for (question, code, why) in [
        (vec!["show", "99"], 2, "there is no run with the number 99"),
        (vec!["compare", "1", "99"], 2, "there is no run with the number 99"),
        (vec!["follow", "cheese"], 2, "expected a sensor of the history by label or ROM code"),
        (vec!["accept", "7"], 2, "there is no change with the number 7"),
        (vec!["list", "--most", "0"], 2, "0 is not in 1.."),
    ] {
        let answer = call(&[&["history", "--history", &history][..], &question].concat());
        assert_eq!(answer.code, Some(code), "{question:?}: {}", answer.err);
        assert!(answer.err.contains(why), "{question:?}: {}", answer.err);
    }
    let missing = call(&["history", "--history", &bench.name("none.sqlite"), "list"]);
    assert_eq!(missing.code, Some(2));
    assert!(missing.err.contains("there is none") && missing.err.contains("hint:"), "{}", missing.err);
    assert!(!bench.path("none.sqlite").exists());
}

#[test]
fn a_change_is_reported_stored_and_accepted() {
    let bench = Bench::new();
    let scenario = bench.file("look.toml", SCENARIO);
    let history = bench.name("history.sqlite");
    let run = |rig: &str, seed: u32| {
        call(&["run", &scenario, "--rig", rig, "--seed", &seed.to_string(), "--history", &history])
    };
    for seed in 1..=8 {
        assert_eq!(run("cellar", seed).code, Some(0));
    }
    let slow = bench.rig("conversion = \"76 %\"", "conversion = \"82 %\"");
    let changed = run(&slow, 9);
    assert_eq!(changed.code, Some(1), "{}{}", changed.out, changed.err);
    assert!(
        changed.out.contains("CHANGED  middle shelf (28:17B86E5D2903:CE) at 12 bits: conversion time has moved"),
        "{}",
        changed.out
    );
    // The run itself has passed: that is not what the exit code is about.
    let why = "exit code 1: all expectations met, but something has changed against the runs before\n";
    assert!(changed.out.ends_with(why), "{}", changed.out);
    assert!(run(&slow, 10).out.contains("since "));
    let changes = call(&["history", "--history", &history, "changes"]);
    assert!(changes.out.contains("stands, since") && changes.out.contains("runs 9 to 10"), "{}", changes.out);
    assert_eq!(call(&["history", "--history", &history, "accept", "1"]).code, Some(0));
    assert_eq!(run(&slow, 11).code, Some(0), "it is meant");
}

/// A shell sorts `2026-11-12.2/` before `2026-11-12/`.
#[test]
fn a_history_that_is_made_anew_has_the_runs_in_the_order_of_their_time() {
    let bench = Bench::new();
    let first = filled(&bench);
    let record = |number: u32| bench.name(&format!("out-{number}/record.json"));
    let anew = bench.name("anew.sqlite");
    let added = call(&["history", "--history", &anew, "add", &record(3), &record(1), &record(2)]);
    assert_eq!((added.code, added.out.contains("3 runs added")), (Some(0), true), "{}{}", added.out, added.err);
    let times = |history: &str| {
        let answer = call(&["history", "--history", history, "export", "runs", "--as", "csv"]);
        let mut reader = csv::Reader::from_reader(answer.out.as_bytes());
        let column = reader.headers().unwrap().iter().position(|name| name == "started_at").expect("a time");
        reader.records().map(|row| row.unwrap()[column].to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(times(&anew), times(&first));
    assert!(times(&anew).is_sorted());
}

/// Something that never ends must not be read, nor opened: a pipe would wait for a program that writes into it.
#[cfg(unix)]
#[test]
fn what_is_no_file_or_too_large_is_refused_at_once() {
    let bench = Bench::new();
    let pipe = bench.name("pipe");
    let status = std::process::Command::new("mkfifo").arg(&pipe).status().expect("mkfifo is there");
    assert!(status.success());
    let large = bench.name("large.json");
    // All holes: it takes no room.
    std::fs::File::create(&large).unwrap().set_len(1 << 40).unwrap();
    let history = bench.name("h.sqlite");
    let add = call(&["history", "--history", &history, "add", &pipe, "/dev/zero", &bench.name("."), &large]);
    assert_eq!((add.code, &*add.out), (Some(2), "0 runs added, 0 were there already\n"), "{}", add.err);
    let no_file = "no record of a run: expected a file, found something else (a pipe or a device)";
    for why in [
        format!("{pipe}: {no_file}"),
        format!("/dev/zero: {no_file}"),
        "no record of a run: expected a file, found a folder".into(),
        format!("{large}: no record of a run: expected at most 134217728 bytes, found more"),
    ] {
        assert!(add.err.contains(&why), "{why}: {}", add.err);
    }
    for history in [&*pipe, "/dev/zero"] {
        let list = call(&["history", "--history", history, "list"]);
        assert_eq!(list.code, Some(2), "{list:?}");
        assert!(list.err.contains("expected a file, found something else"), "{}", list.err);
    }
}

#[test]
fn a_record_with_an_invalid_date_or_a_contradictory_end_is_refused_by_name() {
    let bench = Bench::new();
    filled(&bench);
    let text = read(&bench.path("out-1/record.json"));
    let date = text.split("\"started_at\": \"").nth(1).and_then(|rest| rest.split('"').next()).expect("a date");
    let changed = |name: &str, from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        bench.file(name, &text.replace(from, to))
    };
    let ended = "\"end\": {\n    \"outcome\": \"passed\"";
    let end = |outcome: &str| ended.replace("passed", outcome);
    let records = [
        (changed("yesterday.json", date, "yesterday"), "expected a time such as"),
        (changed("february.json", date, "2026-02-30T01:00:00Z"), "found \"2026-02-30T01:00:00Z\""),
        (changed("failed.json", ended, &end("failed")), "its end is FAILED, but no step failed"),
        (changed("broken.json", ended, &end("broken")), "its end is BROKEN, which does not agree with"),
        (
            changed(
                "steps.json",
                "\"outcome\": \"passed\",\n      \"reason\"",
                "\"outcome\": \"not-run\",\n      \"reason\"",
            ),
            "is not run",
        ),
    ];
    let history = bench.name("h.sqlite");
    let names = records.iter().map(|(name, _)| &**name);
    let add = call(&["history", "--history", &history, "add"].into_iter().chain(names).collect::<Vec<_>>());
    assert_eq!((add.code, &*add.out), (Some(2), "0 runs added, 0 were there already\n"), "{}", add.err);
    for (name, why) in &records {
        let line = add.err.lines().find(|line| line.contains(name)).unwrap_or_else(|| panic!("{name}: {}", add.err));
        assert!(line.contains(why), "{line}");
    }
}
