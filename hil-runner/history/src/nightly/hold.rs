//! The lock that a run of a night holds until it ends, even if the night that started it was killed.
//!
//! A night locks the file for what a run says and hands it to the run as its standard output. Such a lock belongs to
//! the open file, not to a program, so it lasts until the last program that has the file open ends. There is no moment
//! between the start of a run and its lock.
//!
//! On systems other than Unix a lock cannot be handed on; there the mark that a run sets on its folder is all.

use std::fs::{File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::open::Opened;
use slotwise_past::{Job, Night};
use slotwise_terms::Stop;

/// Longest time that a night waits for the runs of one that was killed. Chosen: twice what a run that was stopped gets
/// to tidy up.
pub(super) const PATIENCE: Duration = Duration::from_secs(60);
/// How often a night looks whether they have ended.
const BETWEEN_LOOKS: Duration = Duration::from_millis(50);
/// How often it says that it waits.
const BETWEEN_NEWS: Duration = Duration::from_secs(2);

/// Where what a run says goes.
pub(super) fn said(night_folder: &Path, job: &Job) -> PathBuf {
    night_folder.join(format!("{}.txt", job.folder))
}

/// Opens and locks the file for what a run says, and empties it. `None` if another run still holds it.
pub(super) fn hold(path: &Path) -> io::Result<Option<File>> {
    let file = OpenOptions::new().create(true).truncate(false).write(true).open(path)?;
    if cfg!(unix) {
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Ok(None),
            // A file system of a network without locks: as if there were no other night.
            Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => {}
            Err(TryLockError::Error(error)) => return Err(error),
        }
    }
    file.set_len(0)?;
    Ok(Some(file))
}

/// Whether a run still holds this file.
fn is_held(path: &Path) -> bool {
    cfg!(unix) && File::open(path).is_ok_and(|file| matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock)))
}

/// Runs of a night that still go on, though the night itself was killed. Any of them: a night is killed between the
/// start of a run and the line that says so as well.
fn still_running(opened: &Opened) -> usize {
    opened.night.jobs.iter().filter(|job| is_held(&said(&opened.folder, job))).count()
}

/// Waits until no run of this night goes on, and reports now and then that it waits. Returns the number of those that
/// still do: not zero if they take too long, or the wait was stopped.
pub(super) fn wait_for_runs(
    opened: &Opened,
    at_most: Duration,
    stop: &Stop,
    waits: &mut dyn FnMut(&Night, usize, Duration),
) -> usize {
    let begun = Instant::now();
    let mut next_news = Duration::ZERO;
    loop {
        let running = still_running(opened);
        let waited = begun.elapsed();
        if running == 0 || waited >= at_most || stop.is_raised() {
            return running;
        }
        if waited >= next_news {
            waits(&opened.night, running, waited);
            next_news = waited + BETWEEN_NEWS;
        }
        std::thread::sleep(BETWEEN_LOOKS);
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use slotwise_past::{JobState, NIGHT_VERSION, NightState};
    use slotwise_record::Head;

    #[test]
    fn a_file_is_held_until_the_last_program_that_has_it_ends() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("1-run.txt");
        assert!(!is_held(&path), "there is none");
        let file = hold(&path).unwrap().unwrap();
        let mut child = std::process::Command::new("cat")
            .stdin(std::process::Stdio::piped())
            .stdout(file.try_clone().unwrap())
            .spawn()
            .unwrap();
        drop(file);
        assert!(is_held(&path), "its run has it");
        assert!(hold(&path).unwrap().is_none());
        drop(child.stdin.take());
        child.wait().unwrap();
        // Programs that other tests start at this moment have it as well until they are another program.
        let begun = Instant::now();
        while is_held(&path) {
            assert!(begun.elapsed() < PATIENCE);
        }
        assert!(hold(&path).unwrap().is_some());
    }
    #[test]
    fn a_wait_has_an_end() {
        let folder = tempfile::tempdir().unwrap();
        let job = Job {
            folder: "1-run".into(),
            rig: "cellar".into(),
            scenario: "cellar".into(),
            time: 1,
            seed: 1,
            at_most_s: 60,
            // It is not written down yet that it goes on.
            state: JobState::Waiting,
            run: None,
            started_at: None,
            took_ms: None,
        };
        let night = Night {
            head: Head::of(NIGHT_VERSION),
            name: "2026-03-01".into(),
            plan: "x".into(),
            plan_text: String::new(),
            started_at: String::new(),
            ended_at: None,
            state: NightState::GoingOn,
            resumed: 0,
            jobs: vec![job.clone()],
        };
        let opened = Opened { night, folder: folder.path().into() };
        let mut news = 0;
        let mut wait = |at_most, stop: &Stop| wait_for_runs(&opened, at_most, stop, &mut |_, _, _| news += 1);
        assert_eq!(wait(PATIENCE, &Stop::new()), 0, "no run was started");
        let _held = hold(&said(folder.path(), &job)).unwrap().unwrap();
        assert_eq!(wait(Duration::from_millis(1), &Stop::new()), 1);
        let stop = Stop::new();
        stop.raise();
        assert_eq!(wait(PATIENCE, &stop), 1);
        assert_eq!(news, 1);
    }
}
