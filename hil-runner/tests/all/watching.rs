//! The live view of `read --watch`, on a real terminal: a pseudo-terminal of the system.

use std::io::Write;
use std::time::{Duration, Instant};

use crate::common::terminal::Terminal;
use rustix::process::{Pid, Signal, kill_process};

/// What takes a view to a screen of its own, and what brings the old one back.
const ENTER: &str = "\u{1b}[?1049h";
const LEAVE: &str = "\u{1b}[?1049l";

#[track_caller]
fn assert_left(text: &str) {
    let (before, after) = text.rsplit_once(LEAVE).expect("the old screen is back");
    assert!(before.contains(ENTER) && !after.contains(ENTER));
    // What was seen stays to be read.
    assert!(after.contains("brine bath") && after.contains("lowest"), "{after:?}");
}

#[test]
fn q_ends_the_view_and_leaves_the_terminal_as_it_was() {
    let mut terminal = Terminal::start(&["read", "--watch=100ms", "--seed", "1"]);
    terminal.wait_for("brine");
    assert!(terminal.is_raw());
    terminal.keys.write_all(b"q").expect("a key");
    let (code, text) = terminal.end();
    assert_eq!(code, Some(0), "{text}");
    assert_left(&text);
}

#[test]
fn keys_and_signals_that_end_programs_end_it_too() {
    for by_key in [true, false] {
        let mut terminal = Terminal::start(&["read", "--watch=100ms", "--seed", "1"]);
        terminal.wait_for("brine");
        if by_key {
            terminal.keys.write_all(b"\x03").expect("a key");
        } else {
            kill_process(Pid::from_child(&terminal.child), Signal::TERM).expect("it is there");
        }
        let (code, text) = terminal.end();
        assert_eq!(code, Some(0), "{text}");
        assert_left(&text);
    }
}

#[test]
fn a_dumb_terminal_gets_plain_lines() {
    let mut terminal = Terminal::start(&["--color=never", "read", "--watch=100ms", "--seed", "1", "--json"]);
    terminal.wait_for("\"readings\":");
    terminal.keys.write_all(b"\x03").expect("a key");
    // Ctrl-C has no effect here: this is not the controlling terminal of the program.
    kill_process(Pid::from_child(&terminal.child), Signal::TERM).expect("it is there");
    let (_, text) = terminal.end();
    assert!(!text.contains(ENTER), "{text}");
}

#[test]
fn a_closed_terminal_ends_the_view() {
    let terminal = Terminal::start(&["read", "--watch=100ms", "--seed", "1"]);
    terminal.wait_for("brine");
    let Terminal { keys, near, mut child, .. } = terminal;
    // Only the reader thread holds the far end now, and it ends with the program, on a hang-up.
    drop((keys, near));
    kill_process(Pid::from_child(&child), Signal::HUP).expect("it is there");
    let begun = Instant::now();
    while child.try_wait().expect("it can be looked at").is_none() {
        assert!(begun.elapsed() < Duration::from_secs(10), "it lives on without a terminal");
        std::thread::sleep(Duration::from_millis(10));
    }
}
