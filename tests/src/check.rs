//! What a check is, what it reports, and running a list of them to the end whatever fails on the way.

use crate::command::{Command, Ended};
use cargo_metadata::Metadata;
use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// What every check may look at.
#[derive(Debug)]
pub struct Context {
    /// The top folder of the project.
    pub root: PathBuf,
    /// Where builds go.
    pub target: PathBuf,
    /// The packages and all that they depend on.
    pub metadata: Metadata,
    /// How to come by a compiler for bare metal.
    pub cross: crate::cross::Cross,
}

/// When a check runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// On every run.
    Always,
    /// Only with this option.
    With(&'static str),
}

/// One check.
#[derive(Debug)]
pub struct Check {
    /// Its name on the command line and in the report.
    pub name: &'static str,
    /// What it holds the project to, in a few words.
    pub what: &'static str,
    /// When it runs.
    pub when: When,
    /// The check itself.
    pub run: fn(&Context) -> Report,
}

/// What a check found.
#[derive(Debug, Default)]
pub struct Report {
    /// A few words for the line of the check.
    pub notes: Vec<String>,
    /// Everything that is wrong.
    pub failures: Vec<Failure>,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// What, in one line.
    pub what: String,
    /// The line that shows it again.
    pub repeat: Option<String>,
    /// The last lines that the program printed.
    pub output: Vec<String>,
}

impl Failure {
    /// The failure of a program, with the last of what it printed.
    #[must_use]
    pub fn of(what: &str, ended: &Ended, command: &Command) -> Self {
        let end = match ended.code {
            Some(code) => format!("exit code {code}"),
            None => "ended by a signal".into(),
        };
        Self { what: format!("{what} ({end})"), repeat: Some(command.line()), output: ended.tail() }
    }
}

impl From<String> for Failure {
    fn from(what: String) -> Self {
        Self { what, repeat: None, output: Vec::new() }
    }
}

impl Report {
    /// A report with these failures and no notes.
    #[must_use]
    pub fn of(failures: Vec<String>) -> Self {
        Self { notes: Vec::new(), failures: failures.into_iter().map(Failure::from).collect() }
    }

    /// Adds a few words to the line of the check.
    pub fn note(&mut self, note: impl Into<String>) {
        self.notes.push(note.into());
    }

    /// Adds a failure of one line.
    pub fn fail(&mut self, what: impl Into<String>) {
        self.failures.push(Failure::from(what.into()));
    }

    /// Runs `command`; its failure is a failure called `what`. Gives the output of a success.
    pub fn expect_success(&mut self, what: &str, command: &Command) -> Option<String> {
        let ended = self.expect_start(what, command)?;
        if ended.success {
            return Some(ended.output);
        }
        self.failures.push(Failure::of(what, &ended, command));
        None
    }

    /// Runs `command`; that it cannot be started is a failure called `what`. Gives whatever became of it.
    pub fn expect_start(&mut self, what: &str, command: &Command) -> Option<Ended> {
        match command.run() {
            Ok(ended) => Some(ended),
            Err(error) => {
                let what = format!("{what} (cannot be started: {error})");
                self.failures.push(Failure { what, repeat: Some(command.line()), output: Vec::new() });
                None
            }
        }
    }
}

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tally {
    /// Checks without a failure.
    pub passed: usize,
    /// Checks with at least one.
    pub failed: usize,
}

/// Performs the `chosen` checks one after the other and prints a line for each, every failure, what was not run and why, and the tally.
///
/// # Errors
///
/// When `out` cannot be written to.
pub fn run_all(
    chosen: &[&Check],
    not_run: &[String],
    perform: impl Fn(&Check) -> Report,
    out: &mut impl Write,
) -> io::Result<Tally> {
    let mut tally = Tally { passed: 0, failed: 0 };
    let started = Instant::now();
    for check in chosen {
        announce(check.name);
        let began = Instant::now();
        let report = perform(check);
        let line = line_of(check, &report, began.elapsed());
        if report.failures.is_empty() {
            tally.passed += 1;
        } else {
            tally.failed += 1;
        }
        writeln!(out, "{line}")?;
        for failure in &report.failures {
            write_failure(failure, out)?;
        }
        out.flush()?;
    }
    writeln!(out, "\nall together {:.1} s", started.elapsed().as_secs_f32())?;
    for reason in not_run {
        writeln!(out, "not run: {reason}")?;
    }
    writeln!(out, "{} passed, {} failed", tally.passed, tally.failed)?;
    Ok(tally)
}

/// Shows on a terminal what is going on; the result overwrites it.
fn announce(name: &str) {
    let mut terminal = io::stderr();
    if terminal.is_terminal() {
        // Only a courtesy: a terminal that cannot be written to is no failure of the check.
        let _ = write!(terminal, "  ...  {name}\r").and_then(|()| terminal.flush());
    }
}

fn line_of(check: &Check, report: &Report, took: Duration) -> String {
    let verdict = if report.failures.is_empty() { "ok" } else { "FAILED" };
    let notes = if report.notes.is_empty() { check.what.to_owned() } else { report.notes.join("; ") };
    format!("{verdict:<6} {:<13} {:>6.1} s  {notes}", check.name, took.as_secs_f32())
}

fn write_failure(failure: &Failure, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "       - {}", failure.what)?;
    if let Some(line) = &failure.repeat {
        writeln!(out, "         repeat with: {line}")?;
    }
    for line in &failure.output {
        writeln!(out, "       | {line}")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn check(name: &'static str) -> Check {
        Check { name, what: "says something", when: When::Always, run: |_| Report::default() }
    }

    fn performed(check: &Check) -> Report {
        let mut report = Report::default();
        match check.name {
            "good" => report.note("as it should be"),
            "bad" => {
                report.fail("one thing");
                report.fail("another thing");
            }
            _ => {
                let command = Command::new("sh", Path::new("/tmp")).words("-c").argument("echo why; exit 7");
                report.expect_success("the shell", &command);
            }
        }
        report
    }

    #[test]
    fn every_failure_of_a_run_is_reported() {
        let checks = ["bad", "good", "worse"].map(check);
        let mut out = Vec::new();
        let not_run = ["slow (--slow)".to_owned()];
        let tally = run_all(&checks.each_ref(), &not_run, performed, &mut out).unwrap();
        assert_eq!(tally, Tally { passed: 1, failed: 2 });
        let out = String::from_utf8(out).unwrap();
        for expected in [
            "FAILED bad",
            "- one thing\n",
            "- another thing\n",
            "ok     good",
            "as it should be\n",
            "FAILED worse",
            "- the shell (exit code 7)\n",
            "repeat with: sh -c 'echo why; exit 7'\n",
            "| why\n",
            "not run: slow (--slow)\n",
        ] {
            assert!(out.contains(expected), "no {expected:?} in\n{out}");
        }
        assert!(out.ends_with("\n1 passed, 2 failed\n"), "{out}");
    }

    #[test]
    fn a_program_that_is_not_there_is_a_failure() {
        let mut report = Report::default();
        report.expect_success("it", &Command::new("no such program", Path::new("/tmp")));
        assert!(report.failures[0].what.starts_with("it (cannot be started: "), "{report:?}");
    }
}
