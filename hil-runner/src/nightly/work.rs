//! One run of a night, in a process of its own: whatever becomes of it, the others go on.

use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use super::night::{Job, JobState};
use crate::record::{Record, read_record};
use crate::run::Stop;

/// How often it is looked at.
const LOOK: Duration = Duration::from_millis(20);
/// Time for a run that was told to stop to tidy up its rig and write its record.
const GRACE: Duration = Duration::from_secs(30);
/// Of what a run that came to nothing said, so many bytes are told.
const LAST_WORDS: u64 = 2_000;
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
}

impl Worker<'_> {
    /// Runs it, to its end or to that of its time.
    pub(super) fn run(&self, job: &Job) -> Worked {
        let begun = Instant::now();
        let (state, record) = match self.start(job) {
            Ok(child) => self.outcome(job, self.watch(job, child, begun)),
            Err(error) => (JobState::Lost(format!("it cannot be started: {error}")), None),
        };
        Worked { state, record, took: begun.elapsed() }
    }

    fn folder(&self, job: &Job) -> PathBuf {
        self.night_folder.join(&job.folder)
    }

    fn said(&self, job: &Job) -> PathBuf {
        said(self.night_folder, job)
    }

    fn start(&self, job: &Job) -> io::Result<Child> {
        // What an attempt that was killed has left is no result.
        match fs::remove_dir_all(self.folder(job)) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
        let said = File::create(self.said(job))?;
        let mut command = Command::new(self.program);
        command
            .args(["run", "--color=never", "--until-input-ends"])
            .arg(format!("--rig={}", job.rig))
            .arg(format!("--seed={}", job.seed))
            .arg("--out")
            .arg(std::path::absolute(self.folder(job))?)
            .args(["--", &job.scenario])
            .current_dir(self.plan_folder)
            // It ends when this pipe does, so it cannot outlive a night that is killed.
            .stdin(Stdio::piped())
            .stdout(said.try_clone()?)
            .stderr(said);
        #[cfg(unix)]
        {
            use std::os::unix::process::CommandExt;
            // Ctrl-C is for the night, which tells its runs.
            command.process_group(0);
        }
        command.spawn()
    }

    /// Waits for its end. The text says why it was ended, if it was.
    fn watch(&self, job: &Job, mut child: Child, begun: Instant) -> (io::Result<ExitStatus>, Option<String>) {
        let mut why = None;
        let mut told_to_stop: Option<Instant> = None;
        loop {
            match child.try_wait() {
                Ok(Some(status)) => return (Ok(status), why),
                Ok(None) => {}
                Err(error) => return (Err(error), why),
            }
            match told_to_stop {
                None if self.stop.is_raised() || begun.elapsed().as_secs() >= job.at_most_s => {
                    why = Some(if self.stop.is_raised() {
                        "the night was stopped".into()
                    } else {
                        format!("it took longer than the {} s that the plan allows", job.at_most_s)
                    });
                    drop(child.stdin.take());
                    told_to_stop = Some(Instant::now());
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

    fn outcome(
        &self,
        job: &Job,
        (status, why): (io::Result<ExitStatus>, Option<String>),
    ) -> (JobState, Option<Record>) {
        let missing = match read_record(&record_of(&self.folder(job))) {
            Ok(record) => return (JobState::Done(record.end.outcome), Some(record)),
            Err(error) if error.is_missing() => "no record was written".into(),
            Err(error) => format!("its record cannot be used: {error}"),
        };
        let last_words = last_words(&self.said(job));
        let text = |what: String| {
            let parts = [Some(what), why, (!last_words.is_empty()).then(|| last_words.clone())];
            parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
        };
        let state = match status {
            // The folder is made once everything that was written by hand has been found good.
            Ok(status) if status.code() == Some(BAD_INPUT) && !self.folder(job).exists() => {
                JobState::Refused(text("bad input or usage".into()))
            }
            Ok(status) => JobState::Lost(text(format!("{missing} ({status})"))),
            Err(error) => JobState::Lost(text(format!("it was lost sight of: {error}"))),
        };
        (state, None)
    }
}

/// Where what a run said goes.
pub(super) fn said(night_folder: &Path, job: &Job) -> PathBuf {
    night_folder.join(format!("{}.txt", job.folder))
}

/// Where the record of a run lies.
pub(super) fn record_of(folder: &Path) -> PathBuf {
    folder.join("record.json")
}

/// The errors at the end of a file, in one line; its last lines where it has none.
fn last_words(path: &Path) -> String {
    let read = || -> io::Result<Vec<u8>> {
        let mut file = File::open(path)?;
        let length = file.metadata()?.len();
        file.seek(SeekFrom::Start(length.saturating_sub(LAST_WORDS)))?;
        let mut bytes = Vec::new();
        file.take(LAST_WORDS).read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    let text = String::from_utf8_lossy(&read().unwrap_or_default()).into_owned();
    let lines: Vec<&str> = text.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
    let is_told = |line: &&str| ["error:", "hint:"].iter().any(|first| line.starts_with(first));
    let told: Vec<&str> = lines.iter().copied().filter(is_told).collect();
    let words = if told.is_empty() { &lines[lines.len().saturating_sub(3)..] } else { &told };
    words.join("; ")
}
