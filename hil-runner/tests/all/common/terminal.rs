//! The program on a pseudo-terminal of the system.

use std::fs::File;
use std::io::Read;
use std::process::Child;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, Winsize, tcgetattr, tcsetwinsize};

use super::command;

/// A terminal with the program on it.
pub struct Terminal {
    /// The end that a person has.
    pub keys: File,
    /// The end that the program has.
    pub near: File,
    pub child: Child,
    shown: Arc<Mutex<Vec<u8>>>,
}

impl Terminal {
    pub fn start(arguments: &[&str]) -> Self {
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
                heard.lock().expect("no holder of the lock has panicked").extend_from_slice(&bytes[..count]);
            }
        });
        Self { keys, near, child, shown }
    }

    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.shown.lock().expect("no holder of the lock has panicked")).into_owned()
    }

    #[track_caller]
    pub fn wait_for(&self, text: &str) {
        let begun = Instant::now();
        while !self.text().contains(text) {
            assert!(begun.elapsed() < Duration::from_secs(30), "never {text:?}: {}", self.text());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Whether keys come one by one and unseen, as a view needs them.
    pub fn is_raw(&self) -> bool {
        let modes = tcgetattr(&self.near).expect("a terminal").local_modes;
        !modes.intersects(LocalModes::ICANON | LocalModes::ECHO)
    }

    #[track_caller]
    pub fn end(mut self) -> (Option<i32>, String) {
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
