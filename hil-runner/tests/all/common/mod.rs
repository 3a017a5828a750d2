//! The program as a command, with rigs and scenarios for it.

#![allow(dead_code, reason = "each test program uses a part of it")]

#[cfg(unix)]
pub mod terminal;

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Exit code and output of a call.
#[derive(Debug)]
pub struct Call {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

/// The program with these arguments, not yet started.
pub fn command(args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_hil-runner"));
    command
        .args(args)
        .stdin(Stdio::null())
        .env_remove("NO_COLOR")
        .env_remove("CLICOLOR_FORCE")
        .env_remove("HIL_RUNNER_HISTORY");
    command
}

/// Calls the program.
pub fn call(args: &[&str]) -> Call {
    let output = command(args).output().expect("the program starts");
    Call {
        code: output.status.code(),
        out: String::from_utf8(output.stdout).expect("text"),
        err: String::from_utf8(output.stderr).expect("text"),
    }
}

/// A folder for one test.
pub struct Bench(tempfile::TempDir);

impl Bench {
    pub fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// A path as an argument.
    pub fn name(&self, name: &str) -> String {
        self.path(name).to_str().expect("a path that is text").to_owned()
    }

    /// Writes a file and returns its path as an argument.
    pub fn file(&self, name: &str, text: &str) -> String {
        std::fs::write(self.path(name), text).expect("a file");
        self.name(name)
    }

    /// The built-in rig with one piece of its text replaced.
    pub fn rig(&self, from: &str, to: &str) -> String {
        let text = slotwise_rig::built_in_rig_text("cellar").expect("the cellar is built in");
        assert!(text.contains(from), "{from:?} is in the rig's text");
        self.file("rig.toml", &text.replacen(from, to, 1))
    }
}

/// A scenario of these steps, given as the lines below `[[step]]`.
pub fn scenario(steps: &[&str]) -> String {
    let mut text = "scenario = \"a test\"\n".to_owned();
    for step in steps {
        text.push_str("\n[[step]]\n");
        text.push_str(step);
        text.push('\n');
    }
    text
}

/// A file as text.
pub fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// What the program wrote as JSON, held against a schema in the folder of the tool.
#[track_caller]
pub fn as_its_schema_says(text: &str, schema: &str) -> serde_json::Value {
    let value = serde_json::from_str(text).expect("JSON");
    let mut schemas = boon::Schemas::new();
    let mut compiler = boon::Compiler::new();
    // One schema refers to another by its identifier.
    let other = include_str!("../../../waveform/src/waveform.schema.json");
    let other: serde_json::Value = serde_json::from_str(other).expect("JSON");
    let id = other["$id"].as_str().expect("an identifier").to_owned();
    compiler.add_resource(&id, other).expect("a schema");
    let path = format!("{}/{schema}", env!("CARGO_MANIFEST_DIR"));
    let index = compiler.compile(&path, &mut schemas).expect("a schema");
    if let Err(error) = schemas.validate(&value, index) {
        panic!("{error:#}");
    }
    value
}

/// A scenario that is soon over.
pub const SHORT: &str = "scenario = \"short\"\n[[step]]\nlabel = \"find\"\nfind = { times = 2 }\n";

/// Writes the plan of a bench's nights.
pub fn plan(bench: &Bench, entries: &str) {
    bench.file("plan.toml", &format!("plan = \"test\"\n{entries}"));
}

/// A night of this day in March 2026, by that plan.
pub fn night_of(bench: &Bench, day: u32) -> Call {
    call(&["nightly", &bench.name("plan.toml"), "--date", &format!("2026-03-{day:02}")])
}
