//! Running another program out of sight: its output is kept for the case of failure, with the line that repeats it.

use std::ffi::OsStr;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::process::{self, Stdio};

/// Lines of output that a failure shows.
const TAIL: usize = 60;

/// Variables that `cargo run` sets for the program it starts. A cargo below must not see them: it would take this package
/// for its own, or another toolchain's libraries.
const OF_CARGO_RUN: [&str; 4] = ["CARGO", "CARGO_MANIFEST_DIR", "CARGO_MANIFEST_PATH", "LD_LIBRARY_PATH"];
const OF_CARGO_RUN_PREFIX: &str = "CARGO_PKG_";

/// A program with its arguments, variables and folder.
#[derive(Debug, Clone)]
pub struct Command {
    program: String,
    arguments: Vec<String>,
    variables: Vec<(String, String)>,
    folder: PathBuf,
    /// Where the repeating line is typed; a `cd` is shown for any other folder.
    home: PathBuf,
}

/// What became of a program that could be started.
#[derive(Debug, Clone)]
pub struct Ended {
    /// Whether it ended with exit code 0.
    pub success: bool,
    /// The exit code, if it ended by itself.
    pub code: Option<i32>,
    /// Both of its output streams, as they came.
    pub output: String,
}

impl Ended {
    /// The last lines of the output.
    #[must_use]
    pub fn tail(&self) -> Vec<String> {
        tail(&self.output)
    }
}

/// The last lines of a text, with a word about how many stand before them.
#[must_use]
pub fn tail(text: &str) -> Vec<String> {
    let lines: Vec<&str> = text.lines().collect();
    let left_out = lines.len().saturating_sub(TAIL);
    let mut tail = Vec::new();
    if left_out > 0 {
        tail.push(format!("({left_out} lines before these are left out)"));
    }
    tail.extend(lines[left_out..].iter().map(|line| (*line).to_owned()));
    tail
}

impl Command {
    /// `program`, started in `folder`, which is also where a person would repeat it.
    pub fn new(program: &str, folder: &Path) -> Self {
        Self {
            program: program.into(),
            arguments: Vec::new(),
            variables: Vec::new(),
            folder: folder.into(),
            home: folder.into(),
        }
    }

    /// With the words of `arguments` added; none of them may hold a space.
    #[must_use]
    pub fn words(mut self, arguments: &str) -> Self {
        self.arguments.extend(arguments.split_whitespace().map(str::to_owned));
        self
    }

    /// With one more argument, whatever it holds.
    #[must_use]
    pub fn argument(mut self, argument: impl Into<String>) -> Self {
        self.arguments.push(argument.into());
        self
    }

    /// With a variable set.
    #[must_use]
    pub fn variable(mut self, name: &str, value: impl Into<String>) -> Self {
        self.variables.push((name.into(), value.into()));
        self
    }

    /// Started in another folder than the one where a person would type it.
    #[must_use]
    pub fn within(mut self, folder: &Path) -> Self {
        self.folder = folder.into();
        self
    }

    /// The name of the program.
    #[must_use]
    pub fn program(&self) -> &str {
        &self.program
    }

    /// The line that a person types to repeat it.
    #[must_use]
    pub fn line(&self) -> String {
        let mut words = Vec::new();
        if self.folder != self.home {
            let folder = self.folder.strip_prefix(&self.home).unwrap_or(&self.folder);
            words.push(format!("cd {} &&", quoted(&folder.display().to_string())));
        }
        words.extend(self.variables.iter().map(|(name, value)| format!("{name}={}", quoted(value))));
        words.push(quoted(&self.program));
        words.extend(self.arguments.iter().map(|argument| quoted(argument)));
        words.join(" ")
    }

    /// Runs it to its end, with no input.
    ///
    /// # Errors
    ///
    /// When the program cannot be started.
    pub fn run(&self) -> io::Result<Ended> {
        let (mut reader, writer) = io::pipe()?;
        let mut command = process::Command::new(&self.program);
        for (name, _) in std::env::vars_os() {
            if is_of_cargo_run(&name) {
                command.env_remove(name);
            }
        }
        command
            .args(&self.arguments)
            .envs(self.variables.iter().map(|(name, value)| (name, value)))
            .current_dir(&self.folder)
            .stdin(Stdio::null())
            .stdout(writer.try_clone()?)
            .stderr(writer);
        let mut child = command.spawn()?;
        // The command holds the ends of the pipe that are written to; reading ends only once they are closed.
        drop(command);
        let mut output = Vec::new();
        reader.read_to_end(&mut output)?;
        let status = child.wait()?;
        let output = String::from_utf8_lossy(&output).into_owned();
        Ok(Ended { success: status.success(), code: status.code(), output })
    }

    /// What it prints, if it can be started and succeeds.
    #[must_use]
    pub fn answer(&self) -> Option<String> {
        self.run().ok().filter(|ended| ended.success).map(|ended| ended.output)
    }
}

fn is_of_cargo_run(name: &OsStr) -> bool {
    name.to_str().is_some_and(|name| OF_CARGO_RUN.contains(&name) || name.starts_with(OF_CARGO_RUN_PREFIX))
}

fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./=:,@%+".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        return word.into();
    }
    format!("'{}'", word.replace('\'', r"'\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn here(program: &str) -> Command {
        Command::new(program, Path::new("/tmp"))
    }

    #[test]
    fn line_can_be_typed_into_a_shell() {
        let command = here("cargo").words("test --workspace").argument("two words").variable("FLAGS", "-D it's");
        assert_eq!(command.line(), r"FLAGS='-D it'\''s' cargo test --workspace 'two words'");
        assert_eq!(here("cargo").within(Path::new("/tmp/a b")).line(), "cd 'a b' && cargo");
    }

    #[test]
    fn both_streams_and_the_exit_code_are_kept() {
        let ended = here("sh").words("-c").argument("echo out; echo err >&2; exit 3").run().unwrap();
        assert_eq!((ended.success, ended.code, ended.output.as_str()), (false, Some(3), "out\nerr\n"));
        assert_eq!(here("sh").words("-c").argument("exit 1").answer(), None);
        assert!(here("no such program").run().is_err());
    }

    #[test]
    fn tail_is_bounded_and_says_so() {
        let ended = here("seq").words("1 100").run().unwrap();
        let tail = ended.tail();
        assert_eq!(tail.len(), TAIL + 1);
        assert_eq!(tail[0], "(40 lines before these are left out)");
        assert_eq!((tail[1].as_str(), tail[TAIL].as_str()), ("41", "100"));
    }

    #[test]
    fn variables_of_the_running_cargo_are_hidden() {
        assert!(is_of_cargo_run(OsStr::new("CARGO_PKG_NAME")));
        assert!(!is_of_cargo_run(OsStr::new("CARGO_TARGET_DIR")));
        let seen = here("sh").words("-c").argument("echo \"[$CARGO_PKG_NAME]\"").answer();
        assert_eq!(seen.as_deref(), Some("[]\n"));
    }
}
