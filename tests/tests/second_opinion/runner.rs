//! The runner, started as a user starts it, and bounded waits.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The port in the file of the rig, in whose place the emulator's goes.
const PORT_IN_FILE: &str = "/dev/ttyACM0";

/// What the command `cargo checks` hands to these tests.
pub(crate) fn given(variable: &str) -> String {
    std::env::var(variable).unwrap_or_else(|_| panic!("{variable} is not set: run cargo checks --only second-opinion"))
}

/// Waits for something to happen, and fails if it does not in time.
#[track_caller]
pub(crate) fn wait_until(longest: Duration, what: &str, mut happened: impl FnMut() -> bool) {
    let began = Instant::now();
    while !happened() {
        assert!(began.elapsed() < longest, "{what}: not within {longest:?}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

pub(crate) struct Runner {
    child: Child,
    output: JoinHandle<String>,
    _folder: tempfile::TempDir,
}

/// What came of it.
pub(crate) struct Ended {
    pub(crate) code: Option<i32>,
    /// Both of its output streams.
    pub(crate) output: String,
}

impl Runner {
    /// `hil-runner run`, on the rig "second opinion" at this port.
    pub(crate) fn start(port: &str) -> Self {
        let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).with_file_name("fixtures");
        let folder = tempfile::tempdir().unwrap();
        let rig = folder.path().join("rig.toml");
        let text = fs::read_to_string(fixtures.join("rigs/second-opinion.toml")).unwrap();
        assert!(text.contains(PORT_IN_FILE));
        fs::write(&rig, text.replace(PORT_IN_FILE, port)).unwrap();
        Self::call(&fixtures.join("scenarios/second-opinion.toml"), &rig, folder)
    }

    fn call(scenario: &Path, rig: &PathBuf, folder: tempfile::TempDir) -> Self {
        let (mut reader, writer) = std::io::pipe().unwrap();
        let mut command = Command::new(given("SLOTWISE_RUNNER"));
        command
            .arg("run")
            .arg(scenario)
            .arg("--rig")
            .arg(rig)
            .stdin(Stdio::null())
            .stdout(writer.try_clone().unwrap())
            .stderr(writer);
        let child = command.spawn().unwrap();
        // Its copies of the writing ends would keep the pipe open.
        drop(command);
        let output = std::thread::spawn(move || {
            let mut bytes = Vec::new();
            reader.read_to_end(&mut bytes).unwrap();
            String::from_utf8_lossy(&bytes).into_owned()
        });
        Self { child, output, _folder: folder }
    }

    /// Waits for its end; one that does not come in time is a failure.
    pub(crate) fn wait(mut self, longest: Duration) -> Ended {
        let began = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return Ended { code: status.code(), output: self.output.join().unwrap() };
            }
            if began.elapsed() >= longest {
                let _ = self.child.kill();
                let _ = self.child.wait();
                panic!("the runner has not ended within {longest:?}:\n{}", self.output.join().unwrap());
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}
