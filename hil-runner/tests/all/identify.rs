//! `identify` as a command. On a virtual rig `--hand` chooses the sensor that the simulated hand warms; the judge of
//! movement does not get that choice.

use crate::common::{Bench, Call, as_its_schema_says, call, read};

const UNNAMED: &str = include_str!("../../../fixtures/rigs/unnamed.toml");

fn identify(rig: &str, more: &[&str]) -> Call {
    call(&[&["identify", "--rig", rig, "--seed", "1"], more].concat())
}

#[test]
fn labels_go_to_the_sensors_that_the_hand_takes_and_no_other_byte_changes() {
    // Comments, odd spacing, Windows line ends, a byte order mark.
    let odd = UNNAMED.replace("label = \"sensor 4\"", "   label   = 'sensor 4'\t# here?");
    for text in [UNNAMED.to_owned(), odd.clone(), odd.replace('\n', "\r\n"), format!("\u{FEFF}{odd}")] {
        let bench = Bench::new();
        let rig = bench.file("rig.toml", &text);
        let hands = ["--hand", "28:2F77DB9A6005:02", "--hand", "sensor 7", "--hand", "sensor 8"];
        let labels = ["--rename", "brine bath", "door \"left\"", "attic"];
        let called = identify(&rig, &[&hands[..], &labels].concat());
        assert_eq!(called.code, Some(0), "{called:?}");
        let expected = text
            .replace("\"sensor 4\"", "\"brine bath\"")
            .replace("'sensor 4'", "\"brine bath\"")
            .replace("\"sensor 7\"", "'door \"left\"'")
            .replace("\"sensor 8\"", "\"attic\"");
        assert_eq!(read(&bench.path("rig.toml")), expected);
        assert!(called.out.contains("brine bath  28:2F77DB9A6005:02  warmer by "), "{}", called.out);
        assert!(called.out.contains("confidence over 99.99 %; written, was \"sensor 4\""), "{}", called.out);
        // The caution comes before the first prompt.
        let (caution, prompt) = (called.err.find("caution   Touch a sensor only"), called.err.find("now: "));
        assert!(caution.zip(prompt).is_some_and(|(caution, prompt)| caution < prompt), "{}", called.err);
    }
}

#[test]
fn json_has_identified_sensors_with_confidence_and_the_remaining_ones() {
    let bench = Bench::new();
    let rig = bench.file("rig.toml", UNNAMED);
    let called =
        identify(&rig, &["--json", "--rename", "--hand", "sensor 5", "--hand", "none", "--limit", "20s", "a", "b"]);
    assert_eq!(called.code, Some(1), "{called:?}");
    let json = as_its_schema_says(&called.out, "study/src/identify/identify.schema.json");
    let one = &json["identified"][0];
    assert_eq!(
        (&one["label"], &one["rom"], &one["before"]),
        (&"a".into(), &"28:E34A05F1C804:3E".into(), &"sensor 5".into())
    );
    assert_eq!((&one["file"], &json["ended"]), (&"written".into(), &"complete".into()));
    assert!(one["confidence"].as_f64().is_some_and(|share| share > 0.999 && share <= 0.9999));
    assert_eq!(json["not_identified"][0]["label"], "b");
    assert_eq!(json["others"].as_array().map(Vec::len), Some(7));
}

#[test]
fn what_is_typed_wrongly_touches_nothing() {
    let bench = Bench::new();
    let rig = bench.file("rig.toml", UNNAMED);
    for (arguments, message) in [
        (vec![], "cannot prompt for labels"),
        (vec!["a", "a"], "label \"a\": expected each label once"),
        (vec!["none"], "label \"none\": expected a label that has no meaning of its own"),
        (vec!["a", "--hand", "nowhere"], "--hand: expected a ROM code or a label of this rig"),
        (vec!["a", "--limit", "1s"], "expected a time from 10s to 1h"),
        (vec!["a", "--least", "0.1"], "expected a temperature difference"),
    ] {
        let called = identify(&rig, &arguments);
        assert_eq!(called.code, Some(2), "{arguments:?}");
        assert!(called.err.contains(message), "{arguments:?}: {}", called.err);
    }
    assert_eq!(read(&bench.path("rig.toml")), UNNAMED);
    for built_in in ["cellar", "emulated"] {
        let called = identify(built_in, &["a"]);
        assert_eq!(called.code, Some(2));
        assert!(
            called
                .err
                .contains("is built in and cannot be written: write one first, such as by hil-runner new rig unnamed")
        );
    }
    let called = call(&["identify", "a"]);
    assert!(called.code == Some(2) && called.err.contains("identify needs a rig file"), "{called:?}");
}

#[test]
fn a_sensor_that_cannot_be_renamed_is_refused_before_the_first_prompt() {
    let bench = Bench::new();
    let rig = bench.file("rig.toml", UNNAMED);
    let called = identify(&rig, &["--hand", "sensor 2", "attic"]);
    assert_eq!(called.code, Some(2), "{called:?}");
    assert!(
        called.err.contains("no sensor is free for the label \"attic\"") && called.err.contains("--rename renames")
    );
    assert!(!called.err.contains("hands off") && !called.err.contains("now: "), "{}", called.err);
    // A label that the sensor has already can be confirmed.
    let called = identify(&rig, &["--hand", "sensor 2", "sensor 2"]);
    assert_eq!((called.code, read(&bench.path("rig.toml"))), (Some(0), UNNAMED.to_owned()));
}

#[test]
fn a_broken_line_is_no_missing_sensor() {
    let bench = Bench::new();
    let rig = bench.file("rig.toml", &UNNAMED.replace("pull_up = \"2.2 kohm\"", "pull_up = \"none\""));
    let called = identify(&rig, &["a"]);
    assert_eq!(called.code, Some(3), "{called:?}");
    assert!(called.err.contains("the rig is broken"), "{}", called.err);
}

#[cfg(unix)]
mod on_a_terminal {
    use std::io::Write;

    use rustix::process::{Pid, Signal, kill_process};

    use super::*;
    use crate::common::terminal::Terminal;

    fn start(rig: &str) -> Terminal {
        Terminal::start(&["identify", "--rig", rig, "--seed", "1", "--hand", "sensor 2", "--hand", "sensor 3"])
    }

    const QUESTION: &str = "label of this sensor?";

    #[test]
    fn a_person_types_labels_and_ends() {
        let bench = Bench::new();
        let rig = bench.file("rig.toml", UNNAMED);
        let mut terminal = start(&rig);
        terminal.wait_for(QUESTION);
        terminal.keys.write_all(b"lower shelf\n").expect("keys");
        terminal.wait_for("lower shelf  28:90D2317C4E02:1A");
        terminal.wait_for("keep \"sensor 3\"");
        terminal.keys.write_all(b"q\n").expect("keys");
        let (code, text) = terminal.end();
        // Seven sensors are without an answer.
        assert_eq!(code, Some(1), "{text}");
        assert_eq!(read(&bench.path("rig.toml")), UNNAMED.replace("\"sensor 2\"", "\"lower shelf\""));
    }

    #[test]
    fn input_that_is_not_utf8_is_prompted_for_again_and_a_deleted_rig_file_is_reported() {
        let bench = Bench::new();
        let rig = bench.file("rig.toml", UNNAMED);
        let mut terminal = start(&rig);
        terminal.wait_for(QUESTION);
        terminal.keys.write_all(b"br\xFCne\n").expect("keys");
        terminal.wait_for("the line is not UTF-8 text: please type it again");
        terminal.keys.write_all(b"lower shelf\n").expect("keys");
        terminal.wait_for("lower shelf  28:90D2317C4E02:1A");
        terminal.wait_for("keep \"sensor 3\"");
        std::fs::remove_file(bench.path("rig.toml")).expect("it is there");
        terminal.keys.write_all(b"q\n").expect("keys");
        let (code, text) = terminal.end();
        assert_eq!(code, Some(2), "{text}");
        assert!(text.contains("another program has removed labels that this session wrote"), "{text}");
    }

    #[test]
    fn an_interrupt_leaves_the_rig_file_intact() {
        let bench = Bench::new();
        let rig = bench.file("rig.toml", UNNAMED);
        let terminal = start(&rig);
        terminal.wait_for(QUESTION);
        kill_process(Pid::from_child(&terminal.child), Signal::INT).expect("it is there");
        let (code, text) = terminal.end();
        assert_eq!(code, Some(1), "{text}");
        assert!(text.contains("interrupted; labels written so far stay in the rig file"), "{text}");
        assert_eq!(read(&bench.path("rig.toml")), UNNAMED);
        assert_eq!(std::fs::read_dir(bench.path(".")).expect("a folder").count(), 1, "nothing unfinished is left");
    }
}
