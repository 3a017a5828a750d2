//! The emulator: started with the firmware, asked for its port, killed in any case.

use super::runner::{given, wait_until};
use std::io::{BufRead, BufReader};
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

/// How long it may take to start, on a machine with much to do.
const START: Duration = Duration::from_secs(15);
/// How it says where its pseudo-terminal is.
const PORT: &str = "char device redirected to ";

pub(crate) struct Emulator {
    child: Child,
    port: String,
    folder: tempfile::TempDir,
}

impl Emulator {
    /// Starts the firmware; the stream is what the UART of the bus master is joined to.
    pub(crate) fn start() -> (Self, UnixStream) {
        let folder = tempfile::tempdir().unwrap();
        let socket = folder.path().join("line");
        let listener = UnixListener::bind(&socket).unwrap();
        listener.set_nonblocking(true).unwrap();
        let qemu = given("SLOTWISE_QEMU");
        let mut command = Command::new(&qemu);
        if let Some(libraries) = std::env::var_os("SLOTWISE_QEMU_LIBRARIES").filter(|libraries| !libraries.is_empty()) {
            command.env("LD_LIBRARY_PATH", libraries);
        }
        if let Some(data) = std::env::var_os("SLOTWISE_QEMU_DATA").filter(|data| !data.is_empty()) {
            command.arg("-L").arg(data);
        }
        command
            .args(["-machine", "lm3s6965evb", "-display", "none", "-monitor", "none", "-nic", "none"])
            .arg("-kernel")
            .arg(given("SLOTWISE_FIRMWARE"))
            .args(["-chardev", "pty,id=frames", "-serial", "chardev:frames"])
            .args(["-chardev", &format!("socket,id=line,path={}", socket.display()), "-serial", "chardev:line"])
            // A socket carries bytes without their rate; the emulator tells it when the registers are written.
            .args(["-trace", "pl011_baudrate_change", "-D"])
            .arg(folder.path().join("rates"))
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit());
        let child = command.spawn().unwrap_or_else(|error| panic!("{qemu} cannot be started: {error}"));
        let mut emulator = Self { child, port: String::new(), folder };
        emulator.port = emulator.read_port();
        let mut line = None;
        wait_until(START, "the emulator's line", || {
            assert!(matches!(emulator.child.try_wait(), Ok(None)), "the emulator has ended");
            line = listener.accept().ok();
            line.is_some()
        });
        let (line, _) = line.unwrap();
        (emulator, line)
    }

    /// Its pseudo-terminal, which it names in a line of its output.
    fn read_port(&mut self) -> String {
        let output = BufReader::new(self.child.stdout.take().unwrap());
        let (sender, lines) = mpsc::channel();
        std::thread::spawn(move || {
            // Read to its end, or the emulator might wait for a reader.
            for line in output.lines().map_while(Result::ok) {
                let _ = sender.send(line);
            }
        });
        loop {
            let line = lines.recv_timeout(START).expect("the emulator names its port");
            if let Some(port) = line.strip_prefix(PORT) {
                return port.split(' ').next().unwrap().to_owned();
            }
        }
    }

    pub(crate) fn port(&self) -> &str {
        &self.port
    }

    /// The file with the rates.
    pub(crate) fn rates(&self) -> PathBuf {
        self.folder.path().join("rates")
    }

    pub(crate) fn kill(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Drop for Emulator {
    fn drop(&mut self) {
        self.kill();
    }
}
