//! A night from its beginning to its end.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, mpsc};
use std::thread::Builder;
use std::time::Duration;

use chrono::{NaiveDate, Utc};

use super::apart::rows;
use super::finish::{Finished, finish};
use super::hold::{PATIENCE, wait_for_runs};
use super::keep::Keeper;
use super::open::{BeginError, Opened, Reports, go_on, take_stock};
use super::plan::Plan;
use super::work::{STOPPED, Worked, Worker};
use slotwise_past::{Assessment, Job, JobState, Night, NightState, Page, time_text};
use slotwise_terms::Stop;
use slotwise_terms::files::WriteRecordError;

/// What is to be done.
pub struct NightOrder<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// The date of the night.
    pub date: NaiveDate,
    /// This program, which is started anew for each run.
    pub program: &'a Path,
    /// At most so many runs at once.
    pub at_once: usize,
    /// The wish that it ends.
    pub stop: &'a Stop,
    /// The reports of a night beside its metrics.
    pub pages: &'a [Page],
}

/// One who wants to know how a night goes on.
pub trait NightListener {
    /// A run begins: its number from 1, and how many there are.
    fn begins(&mut self, number: usize, of: usize, job: &Job);
    /// A run has come to its end.
    fn ended(&mut self, number: usize, of: usize, job: &Job, assessment: Option<&Assessment>);
    /// A night that was killed or stopped goes on.
    fn resumes(&mut self, night: &Night);
    /// A night that was killed or stopped does not go on, and is closed with what it has.
    fn closes(&mut self, night: &Night);
    /// Runs of a night that was killed still go on, and this one waits for them.
    fn waits(&mut self, night: &Night, runs: usize, waited: Duration, at_most: Duration);
}

/// How a night ended.
#[derive(Debug)]
pub struct NightEnd {
    /// The night.
    pub night: Night,
    /// Its folder.
    pub folder: PathBuf,
    /// What changed since the runs before, for each run that is in the history; each change once.
    pub assessments: Vec<Option<Assessment>>,
    /// What went wrong beside the runs: what could not be written.
    pub troubles: Vec<String>,
}

/// Runs a night.
///
/// # Errors
/// [`BeginError`] if it cannot begin, or what it does cannot be written down any more.
pub fn run_night(order: &NightOrder<'_>, listener: &mut dyn NightListener) -> Result<NightEnd, BeginError> {
    let reports = Reports::take(&order.plan.reports)?;
    let mut opened = reports.night(order.plan, order.date, Utc::now(), &mut random_seed)?;
    let left = reports.left_behind(&opened.night.name)?;
    for killed in left.iter().chain([&opened]) {
        wait(order, killed, listener)?;
    }
    let mut keeper = Keeper::new(&order.plan.history);
    for mut left in left {
        listener.closes(&left.night);
        let why = if left.night.state == NightState::Stopped { STOPPED } else { "the night was killed" };
        take_stock(&mut left);
        not_done(&mut left, why);
        keeper.keep_all(&mut left);
        // Its report shows what there is. It is not the latest night.
        finish(order, &mut left, &mut keeper, Finished::Earlier)?;
    }
    if opened.night.resumed > 0 {
        listener.resumes(&opened.night);
        take_stock(&mut opened);
        go_on(&mut opened.night);
    }
    opened.night.write(&opened.folder)?;
    keeper.keep_all(&mut opened);
    work(order, &mut opened, &mut keeper, listener)?;
    let which = if order.stop.is_raised() { Finished::Stopped } else { Finished::Latest };
    not_done(&mut opened, STOPPED);
    let assessments = finish(order, &mut opened, &mut keeper, which)?;
    Ok(NightEnd { night: opened.night, folder: opened.folder, assessments, troubles: keeper.into_troubles() })
}

/// Waits for the runs of a night that was killed.
fn wait(order: &NightOrder<'_>, opened: &Opened, listener: &mut dyn NightListener) -> Result<(), BeginError> {
    let mut waits = |night: &Night, runs, waited| listener.waits(night, runs, waited, PATIENCE);
    match wait_for_runs(opened, PATIENCE, order.stop, &mut waits) {
        0 => Ok(()),
        _ if order.stop.is_raised() => Err(BeginError::Stopped),
        count => {
            Err(BeginError::StillRunning { night: opened.night.name.clone(), count, waited_s: PATIENCE.as_secs() })
        }
    }
}

/// A random seed of 53 bits, which every reader of JSON keeps exactly.
fn random_seed() -> u64 {
    use std::hash::{BuildHasher, RandomState};
    RandomState::new().hash_one(0) >> 11
}

/// What still waits is not done.
fn not_done(opened: &mut Opened, why: &str) {
    for job in &mut opened.night.jobs {
        if matches!(job.state, JobState::Waiting | JobState::GoingOn) {
            job.state = JobState::NotDone(why.into());
        }
    }
}

/// News from those who work to the one who writes.
enum News {
    Begins(usize),
    Ended(usize, Box<Worked>),
}

/// Does what waits, as much at once as may be.
fn work(
    order: &NightOrder<'_>,
    opened: &mut Opened,
    keeper: &mut Keeper,
    listener: &mut dyn NightListener,
) -> Result<(), BeginError> {
    let folder = opened.folder.clone();
    let worker =
        Worker { program: order.program, plan_folder: &order.plan.folder, night_folder: &folder, stop: order.stop };
    let jobs = opened.night.jobs.clone();
    let rigs: Vec<&str> = jobs.iter().map(|job| &*job.rig).collect();
    let mut waiting: VecDeque<Vec<usize>> = rows(&order.plan.folder, &rigs).into();
    for row in &mut waiting {
        row.retain(|place| jobs[*place].state == JobState::Waiting);
    }
    let waiting = Mutex::new(waiting);
    let next = || waiting.lock().unwrap_or_else(std::sync::PoisonError::into_inner).pop_front();
    let (sender, news) = mpsc::channel();
    let jobs = &jobs;
    std::thread::scope(|scope| {
        for number in 0..order.at_once.max(1) {
            let sender = sender.clone();
            let next = &next;
            let spawned = Builder::new().spawn_scoped(scope, move || {
                while let Some(row) = next() {
                    for place in row {
                        if worker.stop.is_raised() || sender.send(News::Begins(place)).is_err() {
                            return;
                        }
                        let worked = worker.run(&jobs[place]);
                        if sender.send(News::Ended(place, Box::new(worked))).is_err() {
                            return;
                        }
                    }
                }
            });
            match spawned {
                Err(source) if number == 0 => return Err(BeginError::Thread { source }),
                // Those that there are do all of it.
                Err(_) => break,
                Ok(_) => {}
            }
        }
        drop(sender);
        let written = news.iter().try_for_each(|news| write_down(news, opened, keeper, listener));
        if written.is_err() {
            // What cannot be written down is not worth doing; those who work see it at their next look.
            order.stop.raise();
        }
        Ok(written?)
    })
}

fn write_down(
    news: News,
    opened: &mut Opened,
    keeper: &mut Keeper,
    listener: &mut dyn NightListener,
) -> Result<(), WriteRecordError> {
    let of = opened.night.jobs.len();
    match news {
        News::Begins(place) => {
            let job = &mut opened.night.jobs[place];
            job.state = JobState::GoingOn;
            job.started_at = Some(time_text(Utc::now()));
            listener.begins(place + 1, of, job);
            opened.night.write(&opened.folder)
        }
        News::Ended(place, worked) => {
            let Worked { state, record, took, trouble } = *worked;
            if let Some(trouble) = trouble {
                keeper.note(trouble);
            }
            let job = &mut opened.night.jobs[place];
            job.state = state;
            job.took_ms = Some(u64::try_from(took.as_millis()).unwrap_or(u64::MAX));
            let folder = opened.folder.join(&job.folder);
            let assessment = record.and_then(|record| keeper.keep(&opened.night.name, &folder, job, &record));
            listener.ended(place + 1, of, job, assessment);
            opened.night.write(&opened.folder)
        }
    }
}
