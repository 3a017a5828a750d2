//! The live view of `read --watch`, on a real terminal: a pseudo-terminal of the system.

#![cfg(unix)]

mod common;

use std::fs::File;
use std::io::{Read, Write};
use std::process::Child;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use common::command;
use rustix::process::{Pid, Signal, kill_process};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, Winsize, tcgetattr, tcsetwinsize};

/// A terminal with the program on it.
struct Terminal {
    /// The end that a person has.
    keys: File,
    /// The end that the program has.
    near: File,
    child: Child,
    shown: Arc<Mutex<Vec<u8>>>,
}

impl Terminal {
    fn start(arguments: &[&str]) -> Self {
        let far = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a terminal");
        grantpt(&far).expect("it is ours");
        unlockpt(&far).expect("it can be opened");
        let path = ptsname(&far, Vec::new()).expect("it has a name");
        let path = path.to_str().expect("a path that is text");
        let near = File::options().read(true).write(true).open(path).expect("its other end");
        let size = Winsize { ws_row: 20, ws_col: 100, ws_xpixel: 0, ws_ypixel: 0 };
        tcsetwinsize(&near, size).expect("it has a size");
        let end = || near.try_clone().expect("another hold of it");
        let child = command(arguments)
            .env("TERM", "xterm")
            .stdin(end())
            .stdout(end())
            .stderr(end())
            .spawn()
            .expect("the program starts");
        let keys = File::from(far);
        let mut listener = keys.try_clone().expect("another hold of it");
        let shown = Arc::new(Mutex::new(Vec::new()));
        let heard = Arc::clone(&shown);
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(count) = listener.read(&mut bytes) {
                heard.lock().expect("nobody has failed").extend_from_slice(&bytes[..count]);
            }
        });
        Self { keys, near, child, shown }
    }

    fn text(&self) -> String {
        String::from_utf8_lossy(&self.shown.lock().expect("nobody has failed")).into_owned()
    }

    #[track_caller]
    fn wait_for(&self, text: &str) {
        let begun = Instant::now();
        while !self.text().contains(text) {
            assert!(begun.elapsed() < Duration::from_secs(30), "never {text:?}: {}", self.text());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Whether keys come one by one and unseen, as a view needs them.
    fn is_raw(&self) -> bool {
        let modes = tcgetattr(&self.near).expect("a terminal").local_modes;
        !modes.intersects(LocalModes::ICANON | LocalModes::ECHO)
    }

    #[track_caller]
    fn end(mut self) -> (Option<i32>, String) {
        let begun = Instant::now();
        let code = loop {
            if let Some(status) = self.child.try_wait().expect("it can be looked at") {
                break status.code();
            }
            assert!(begun.elapsed() < Duration::from_secs(30), "it does not end: {}", self.text());
            std::thread::sleep(Duration::from_millis(10));
        };
        assert!(!self.is_raw(), "the terminal is left as the view needed it");
        std::thread::sleep(Duration::from_millis(100));
        (code, self.text())
    }
}

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
fn a_terminal_that_can_do_nothing_gets_lines() {
    let mut terminal = Terminal::start(&["--color=never", "read", "--watch=100ms", "--seed", "1", "--json"]);
    terminal.wait_for("\"readings\":");
    terminal.keys.write_all(b"\x03").expect("a key");
    // Ctrl-C reaches nobody here: the terminal is not the one that controls the program.
    kill_process(Pid::from_child(&terminal.child), Signal::TERM).expect("it is there");
    let (_, text) = terminal.end();
    assert!(!text.contains(ENTER), "{text}");
}

#[test]
fn a_terminal_that_goes_away_takes_the_view_with_it() {
    let terminal = Terminal::start(&["read", "--watch=100ms", "--seed", "1"]);
    terminal.wait_for("brine");
    let Terminal { keys, near, mut child, .. } = terminal;
    // Nobody holds the far end any more but the thread that listens, which ends when the program does: told to hang up.
    drop((keys, near));
    kill_process(Pid::from_child(&child), Signal::HUP).expect("it is there");
    let begun = Instant::now();
    while child.try_wait().expect("it can be looked at").is_none() {
        assert!(begun.elapsed() < Duration::from_secs(10), "it lives on without a terminal");
        std::thread::sleep(Duration::from_millis(10));
    }
}
