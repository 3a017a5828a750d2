//! What a check is, what it reports, and running a list of them to the end whatever fails on the way.

use crate::command::{Command, Ended};
use cargo_metadata::Metadata;
use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};
use std::thread;
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
    /// This program, in a place where no build of a check replaces it.
    pub itself: PathBuf,
}

/// When a check runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// On every run.
    Always,
    /// Only with this option.
    With(&'static str),
}

/// Which checks run at the same time. Both rows keep their order; so two processors have something to do while one row links or waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Row {
    /// What builds and runs the packages of the workspace.
    Main,
    /// What builds for chips, or waits for another program; runs beside the main row.
    Beside,
    /// What builds the tool in another way, and so needs its place for itself; runs when both rows are through.
    Last,
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
    /// Beside which others it runs.
    pub row: Row,
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

/// Performs the `chosen` checks in their rows and prints a line for each as it ends, every failure, what was not run and why, and the
/// tally. What belongs to one check stands together.
///
/// # Errors
///
/// When `out` cannot be written to.
pub fn run_all(
    chosen: &[&Check],
    not_run: &[String],
    perform: impl Fn(&Check) -> Report + Sync,
    out: &mut (impl Write + Send),
) -> io::Result<Tally> {
    let started = Instant::now();
    let desk = Mutex::new(Desk { tally: Tally { passed: 0, failed: 0 }, running: Vec::new(), written: Ok(()), out });
    let run = |row| {
        for check in chosen.iter().filter(|check| check.row == row) {
            at(&desk, |desk| desk.announce(check.name));
            let began = Instant::now();
            let report = perform(check);
            at(&desk, |desk| desk.file(check, &report, began.elapsed()));
        }
    };
    thread::scope(|scope| {
        scope.spawn(|| run(Row::Beside));
        run(Row::Main);
    });
    run(Row::Last);
    let Desk { tally, written, out, .. } = desk.into_inner().unwrap_or_else(PoisonError::into_inner);
    written?;
    writeln!(out, "\nall together {:.1} s", started.elapsed().as_secs_f32())?;
    for reason in not_run {
        writeln!(out, "not run: {reason}")?;
    }
    writeln!(out, "{} passed, {} failed", tally.passed, tally.failed)?;
    Ok(tally)
}

/// Where the reports of all rows arrive.
struct Desk<'a, W> {
    tally: Tally,
    running: Vec<&'static str>,
    /// The first failure to write.
    written: io::Result<()>,
    out: &'a mut W,
}

fn at<W>(desk: &Mutex<Desk<'_, W>>, act: impl FnOnce(&mut Desk<'_, W>)) {
    // A row that panics ends the run; what it had filed is whole.
    act(&mut desk.lock().unwrap_or_else(PoisonError::into_inner));
}

impl<W: Write> Desk<'_, W> {
    fn announce(&mut self, name: &'static str) {
        self.running.push(name);
        announce(&self.running);
    }

    fn file(&mut self, check: &Check, report: &Report, took: Duration) {
        self.running.retain(|name| *name != check.name);
        if report.failures.is_empty() {
            self.tally.passed += 1;
        } else {
            self.tally.failed += 1;
        }
        if self.written.is_ok() {
            self.written = self.write(check, report, took);
        }
        announce(&self.running);
    }

    fn write(&mut self, check: &Check, report: &Report, took: Duration) -> io::Result<()> {
        writeln!(self.out, "{}", line_of(check, report, took))?;
        for failure in &report.failures {
            write_failure(failure, self.out)?;
        }
        self.out.flush()
    }
}

/// Shows on a terminal what is going on; the result overwrites it.
fn announce(running: &[&str]) {
    let mut terminal = io::stderr();
    if terminal.is_terminal() && !running.is_empty() {
        // Only a courtesy: a terminal that cannot be written to is no failure of the check. The old line may be longer.
        let line = format!("  ...  {}", running.join(", "));
        let _ = write!(terminal, "{line:<40}\r").and_then(|()| terminal.flush());
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
        Check { name, what: "says something", when: When::Always, row: Row::Main, run: |_| Report::default() }
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

    /// Each check of the two rows waits for the other, so that neither can end alone; the last one finds both ended.
    #[test]
    fn rows_run_at_the_same_time_and_the_last_after_both() {
        let rows = [("one", Row::Last), ("two", Row::Main), ("three", Row::Beside)];
        let checks = rows.map(|(name, row)| Check { row, ..check(name) });
        let (both, ended) = (std::sync::Barrier::new(2), std::sync::atomic::AtomicUsize::new(0));
        let perform = |check: &Check| {
            let mut report = Report::default();
            if check.row == Row::Last {
                report.note(format!("after {}", ended.load(std::sync::atomic::Ordering::SeqCst)));
            } else {
                both.wait();
                report.note("first line");
                report.fail("second line");
                ended.fetch_add(1, std::sync::atomic::Ordering::SeqCst);
            }
            report
        };
        let mut out = Vec::new();
        let tally = run_all(&checks.each_ref(), &[], perform, &mut out).unwrap();
        assert_eq!(tally, Tally { passed: 1, failed: 2 });
        let out = String::from_utf8(out).unwrap();
        let lines: Vec<&str> = out.lines().collect();
        assert!(lines[0].ends_with("first line") && lines[1].ends_with("- second line"), "{out}");
        assert!(lines[2].ends_with("first line") && lines[3].ends_with("- second line"), "{out}");
        assert!(lines[4].starts_with("ok     one") && lines[4].ends_with("after 2"), "{out}");
    }

    #[test]
    fn a_program_that_is_not_there_is_a_failure() {
        let mut report = Report::default();
        report.expect_success("it", &Command::new("no such program", Path::new("/tmp")));
        assert!(report.failures[0].what.starts_with("it (cannot be started: "), "{report:?}");
    }
}
