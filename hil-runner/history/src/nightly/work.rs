//! One run of a night, in a process of its own: whatever becomes of it, the others go on.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::hold::{hold, said};
use super::words::{Words, listen};
use slotwise_past::{Job, JobState};
use slotwise_record::{Record, RunOutcome, UNFINISHED, read_record};
use slotwise_terms::Stop;
use slotwise_terms::files::HISTORY_VARIABLE;

/// How often it is looked at.
const LOOK: Duration = Duration::from_millis(20);
/// Time allowed for a stopping run to leave its rig in order and write its record.
const GRACE: Duration = Duration::from_secs(30);
/// Longest time between one signal's arrival at a run and at its night. Chosen: far more than a busy machine needs.
const SAME_SIGNAL: Duration = Duration::from_secs(5);
/// Why a run was not done that was stopped with its night. It is done when the night goes on.
pub(super) const STOPPED: &str = "the night was stopped";
/// The code with which the program says that something was typed or written wrongly.
const BAD_INPUT: i32 = 2;

/// What a run of a night needs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Worker<'a> {
    /// The program: this one.
    pub(super) program: &'a Path,
    /// Where the paths of the plan begin.
    pub(super) plan_folder: &'a Path,
    /// Where the results go.
    pub(super) night_folder: &'a Path,
    pub(super) stop: &'a Stop,
}

/// What became of a run.
#[derive(Debug)]
pub(super) struct Worked {
    pub(super) state: JobState,
    pub(super) record: Option<Record>,
    pub(super) took: Duration,
    /// Why not all that it said is in its file.
    pub(super) trouble: Option<String>,
}

/// A run that goes on.
struct Running {
    child: Child,
    listener: JoinHandle<Words>,
}

/// How a run ended.
struct Ended {
    status: io::Result<ExitStatus>,
    /// Why it was ended, if it was.
    why: Option<String>,
    words: Words,
}

impl Worker<'_> {
    /// Runs it, to its end or to that of its time.
    pub(super) fn run(&self, job: &Job) -> Worked {
        let begun = Instant::now();
        let (state, record, trouble) = match self.start(job) {
            Ok(running) => {
                let ended = self.watch(job, running, begun);
                let said = said(self.night_folder, job);
                let trouble =
                    ended.words.not_kept.as_ref().map(|error| format!("cannot write {}: {error}", said.display()));
                let (state, record) = self.outcome(job, ended);
                (state, record, trouble)
            }
            Err(error) => (JobState::Lost(format!("it cannot be started: {error}")), None, None),
        };
        Worked { state, record, took: begun.elapsed(), trouble }
    }

    fn folder(&self, job: &Job) -> PathBuf {
        self.night_folder.join(&job.folder)
    }

    fn start(&self, job: &Job) -> io::Result<Running> {
        let said = hold(&said(self.night_folder, job))?
            .ok_or_else(|| io::Error::other("a run of a night that was killed still goes on in its folder"))?;
        // What an attempt that was killed has left is no result.
        match fs::remove_dir_all(self.folder(job)) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
        let (errors, of_run) = io::pipe()?;
        let mut command = Command::new(self.program);
        command
            .args(["run", "--color=never", "--until-input-ends"])
            .arg(format!("--rig={}", job.rig))
            .arg(format!("--seed={}", job.seed))
            .arg("--out")
            .arg(std::path::absolute(self.folder(job))?)
            .args(["--", &job.scenario])
            .current_dir(self.plan_folder)
            // The night adds its runs to its own history.
            .env_remove(HISTORY_VARIABLE)
            // It ends when this pipe does, so it cannot outlive a night that is killed for long.
            .stdin(Stdio::piped())
            // With the lock that the next night waits for.
            .stdout(said.try_clone()?)
            .stderr(of_run);
        #[cfg(unix)]
        {
            use std::os::unix::process::CommandExt;
            // Ctrl-C is for the night, which stops its runs.
            command.process_group(0);
        }
        let listener = listen(errors, said)?;
        // Its own end of the pipe closes with the command.
        Ok(Running { child: command.spawn()?, listener })
    }

    /// Waits for its end.
    fn watch(&self, job: &Job, Running { mut child, listener }: Running, begun: Instant) -> Ended {
        let (status, why) = self.wait(job, &mut child, begun);
        // The listener ends with the run: no other program has the other end of its pipe. It does not panic.
        let words = listener.join().unwrap_or_default();
        Ended { status, why, words }
    }

    fn wait(&self, job: &Job, child: &mut Child, begun: Instant) -> (io::Result<ExitStatus>, Option<String>) {
        let mut why = None;
        let mut stopped: Option<Instant> = None;
        loop {
            match child.try_wait() {
                Ok(Some(status)) => return (Ok(status), why),
                Ok(None) => {}
                Err(error) => return (Err(error), why),
            }
            match stopped {
                None if self.stop.is_raised() || begun.elapsed().as_secs() >= job.at_most_s => {
                    why = Some(if self.stop.is_raised() {
                        STOPPED.into()
                    } else {
                        format!("it took longer than the {} s that the plan allows", job.at_most_s)
                    });
                    drop(child.stdin.take());
                    stopped = Some(Instant::now());
                }
                Some(since) if since.elapsed() >= GRACE => {
                    // If it cannot be killed it is gone already, which the next look shows.
                    let _ = child.kill();
                    return (child.wait(), why);
                }
                _ => {}
            }
            std::thread::sleep(LOOK);
        }
    }

    /// Whether the night is stopped now or in a moment: a signal for all programs of a group may reach a run before its
    /// night.
    fn is_stopped_soon(&self) -> bool {
        let begun = Instant::now();
        while !self.stop.is_raised() && begun.elapsed() < SAME_SIGNAL {
            std::thread::sleep(LOOK);
        }
        self.stop.is_raised()
    }

    fn outcome(&self, job: &Job, Ended { status, why, words }: Ended) -> (JobState, Option<Record>) {
        let read = finished_record(&self.folder(job));
        let code = status.as_ref().ok().and_then(ExitStatus::code);
        let is_interrupted = matches!(&read, Ok(record) if record.end.outcome == RunOutcome::Interrupted);
        let is_stopped = match &why {
            Some(why) => why == STOPPED && (read.is_err() || is_interrupted),
            None => (is_interrupted || code.is_none()) && self.is_stopped_soon(),
        };
        // Half a run is none: it is done when the night goes on.
        if is_stopped {
            let last_words = if code == Some(BAD_INPUT) { words.last() } else { String::new() };
            let parts = [STOPPED, &*last_words].into_iter().filter(|part| !part.is_empty());
            return (JobState::NotDone(parts.collect::<Vec<_>>().join("; ")), None);
        }
        let missing = match read {
            Ok(record) if code == Some(code_of(record.end.outcome)) => {
                return (JobState::Done(record.end.outcome), Some(record));
            }
            Ok(_) => "not all of its results could be written".into(),
            Err(missing) => missing,
        };
        let last_words = words.last();
        let text = |what: String| {
            let parts = [Some(what), why, (!last_words.is_empty()).then(|| last_words.clone())];
            parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
        };
        let state = match status {
            // The folder is made once everything that was written by hand has been found good.
            Ok(_) if code == Some(BAD_INPUT) && !self.folder(job).exists() => {
                JobState::Refused(text("bad input or usage".into()))
            }
            Ok(status) => JobState::Lost(text(format!("{missing} ({status})"))),
            Err(error) => JobState::Lost(text(format!("it was lost sight of: {error}"))),
        };
        (state, None)
    }
}

/// The code with which a run ends that has written all of its results.
const fn code_of(outcome: RunOutcome) -> i32 {
    match outcome {
        RunOutcome::Passed => 0,
        RunOutcome::Failed | RunOutcome::Incomplete | RunOutcome::Interrupted => 1,
        RunOutcome::Broken => 3,
    }
}

/// The record of a run that has written all of its results into this folder, or what is missing.
pub(super) fn finished_record(folder: &Path) -> Result<Record, String> {
    if folder.join(UNFINISHED).exists() {
        return Err("not all of its results were written".into());
    }
    read_record(&record_of(folder)).map_err(|error| match error.is_missing() {
        true => "no record was written".into(),
        false => format!("its record cannot be used: {error}"),
    })
}

/// Where the record of a run lies.
pub(super) fn record_of(folder: &Path) -> PathBuf {
    folder.join("record.json")
}
