//! `hil-runner nightly`.

use std::path::Path;
use std::time::Duration;

use chrono::{Local, NaiveDate};

use super::args::NightlyArgs;
use super::ask;
use super::ask::Refused;
use super::console::{Console, message};
use super::exit::Exit;
use super::files::{Files, reads_image_of};
use super::signals::stop_on_interrupt;
use slotwise_history::nightly::{BeginError, NightEnd, NightListener, NightOrder, Plan, run_night};
use slotwise_past::{Assessment, Job, JobState, Night, NightState, Page};
use slotwise_report::{junit_of_night, night_html};
use slotwise_terms::input::source::is_file_there;
use slotwise_terms::units::count;

/// The reports of a night.
const PAGES: [Page; 2] = [
    ("junit.xml", |report| junit_of_night(report).map_err(|error| error.to_string())),
    ("index.html", |report| night_html(report).map_err(|error| error.to_string())),
];

pub(super) fn nightly(console: &mut Console, args: &NightlyArgs) -> Exit {
    let plan = match Plan::load(&args.plan) {
        Ok(plan) => plan,
        Err(errors) => {
            console.input_errors(&errors);
            return Exit::BadInput;
        }
    };
    let files = files(&args.plan, &plan).check(console);
    if args.check {
        return check(console, &plan, files.err().unwrap_or(Exit::AllMet));
    }
    if let Err(exit) = files {
        return exit;
    }
    let (stop, program) = match (stop_on_interrupt(console), std::env::current_exe()) {
        (Ok(stop), Ok(program)) => (stop, program),
        (Err(Refused(exit)), _) => return exit,
        (_, Err(error)) => {
            console.error(format_args!("this program cannot find itself: {error}"));
            return Exit::BadInput;
        }
    };
    if args.json {
        console.keep_lines_aside();
    }
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let order = NightOrder {
        plan: &plan,
        date: args.date.unwrap_or_else(|| Local::now().date_naive()),
        program: &program,
        at_once: args.at_once.unwrap_or(cores),
        stop: &stop,
        pages: &PAGES,
    };
    let mut printer = NightPrinter { console, exit: Exit::AllMet };
    let ended = run_night(&order, &mut printer);
    let exit = printer.exit;
    match ended {
        Ok(end) => {
            let exit = exit.max(close(console, &end));
            if args.json { exit.max(console.json_line(&end.night)) } else { exit }
        }
        Err(error) => {
            console.error(&error);
            if let Some(hint) = error.hint() {
                message(&format!("hint: {hint}"));
            }
            if matches!(error, BeginError::Stopped) { Exit::NotAllMet } else { Exit::BadInput }
        }
    }
}

/// The files that a plan names, and the plan.
fn files(path: &Path, plan: &Plan) -> Files {
    let mut files = Files::default();
    files.reads("plan", path);
    for entry in &plan.entries {
        let rig = plan.folder.join(&entry.rig);
        if is_file_there(&rig) {
            files.reads("rig", &rig);
            reads_image_of(&mut files, &rig);
        }
        for scenario in entry.scenarios.iter().map(|name| plan.folder.join(name)).filter(|path| is_file_there(path)) {
            files.reads("scenario", &scenario);
        }
    }
    files
        .writes_history("history", &plan.history)
        .writes("metrics", &plan.metrics)
        .writes_nights("reports", &plan.reports);
    files
}

/// Reads all rigs and scenarios of a plan, and reports their problems and paths that cannot be written.
fn check(console: &mut Console, plan: &Plan, so_far: Exit) -> Exit {
    let mut exit = so_far;
    let mut runs = 0;
    for entry in &plan.entries {
        runs += entry.scenarios.len() * entry.times as usize;
        let in_plan = |name: &String| {
            let path = plan.folder.join(name);
            // A built-in rig or scenario has no file.
            if is_file_there(&path) { path.display().to_string() } else { name.clone() }
        };
        let scenarios: Vec<String> = entry.scenarios.iter().map(in_plan).collect();
        if ask::jobs(console, &scenarios, Some(&in_plan(&entry.rig))).is_err() {
            exit = Exit::BadInput;
        }
    }
    for obstacle in plan.obstacles() {
        console.error(obstacle);
        exit = Exit::BadInput;
    }
    if exit == Exit::AllMet {
        exit = console.line(&format!("plan \"{}\": {} a night, all can be run", plan.name, count(runs, "run")));
    }
    exit
}

/// Prints the progress of a night.
struct NightPrinter<'a> {
    console: &'a mut Console,
    exit: Exit,
}

impl NightPrinter<'_> {
    fn line(&mut self, text: &str) {
        self.exit = self.exit.max(self.console.line(text));
    }
}

impl NightListener for NightPrinter<'_> {
    fn begins(&mut self, number: usize, of: usize, job: &Job) {
        message(&format!("{number} of {of} begins: {} on {}", job.scenario, job.rig));
    }

    fn ended(&mut self, number: usize, of: usize, job: &Job, assessment: Option<&Assessment>) {
        let look = self.console.look;
        let seconds = job.took_ms.map_or(String::new(), |ms| format!(" ({:.1} s)", ms as f64 / 1000.0));
        let (word, why) = state_words(&job.state);
        let first = format!("{word:<11}  ");
        let why = why.map_or(String::new(), |why| format!(": {why}"));
        let text = format!("{number} of {of}  {} on {}{seconds}{why}", job.scenario, job.rig);
        self.line(&look.wrap(&first, &text));
        for change in assessment.iter().flat_map(|assessment| &assessment.changes) {
            let first = if change.is_new { "  CHANGED    ".to_owned() } else { format!("  since {}  ", change.since) };
            self.line(&look.wrap(&first, &change.finding.text));
        }
        for over in assessment.iter().flat_map(|assessment| &assessment.over) {
            self.line(&look.wrap("  over       ", &over.text));
        }
    }

    fn resumes(&mut self, night: &Night) {
        message(&format!("night {} goes on where it was {}", night.name, how_it_ended(night)));
    }

    fn closes(&mut self, night: &Night) {
        message(&format!("night {} was {}, and is closed", night.name, how_it_ended(night)));
    }

    fn waits(&mut self, night: &Night, runs: usize, waited: Duration, at_most: Duration) {
        message(&format!(
            "night {} was killed and {} of it still {} on: waiting, {} s of at most {} s",
            night.name,
            count(runs, "run"),
            if runs == 1 { "goes" } else { "go" },
            waited.as_secs(),
            at_most.as_secs(),
        ));
    }
}

/// How an incomplete night ended.
const fn how_it_ended(night: &Night) -> &'static str {
    match night.state {
        NightState::Stopped => "stopped",
        NightState::GoingOn | NightState::Complete | NightState::Closed => "killed",
    }
}

/// The state of a run as a word, and the cause.
fn state_words(state: &JobState) -> (&'static str, Option<&str>) {
    match state {
        JobState::Done(outcome) => (outcome.word(), None),
        JobState::Refused(why) => ("REFUSED", Some(why)),
        JobState::Lost(why) => ("LOST", Some(why)),
        JobState::NotDone(why) => ("NOT DONE", Some(why)),
        JobState::Waiting | JobState::GoingOn => ("NOT DONE", None),
    }
}

/// The exit code of one run of a night.
fn exit_of(state: &JobState) -> Exit {
    match state {
        JobState::Done(outcome) => Exit::from(*outcome),
        // A lost run is a failure of this computer and no evidence about the rig.
        JobState::Refused(_) | JobState::Lost(_) => Exit::BadInput,
        JobState::NotDone(_) | JobState::Waiting | JobState::GoingOn => Exit::NotAllMet,
    }
}

fn close(console: &mut Console, end: &NightEnd) -> Exit {
    let NightEnd { night, folder, assessments, troubles } = end;
    let mut exit = night.jobs.iter().map(|job| exit_of(&job.state)).max().unwrap_or(Exit::AllMet);
    let changes = || assessments.iter().flatten().flat_map(|assessment| &assessment.changes);
    let new = changes().filter(|change| change.is_new).count();
    let without_changes = exit;
    if changes().next().is_some() {
        exit = exit.max(Exit::NotAllMet);
    }
    for trouble in troubles {
        console.error(trouble);
        exit = exit.max(Exit::BadInput);
    }
    let passed = night.jobs.iter().filter(|job| exit_of(&job.state) == Exit::AllMet).count();
    let text = format!(
        "night {}: {passed} of {} passed; {new} new, {} standing since before",
        night.name,
        count(night.jobs.len(), "run"),
        count(changes().count() - new, "change"),
    );
    let written = console.line(&text).max(console.line(&format!("reports in {}", shown(folder))));
    let exit = exit.max(written);
    exit.max(console.line(&exit.line(without_changes)))
}

fn shown(folder: &Path) -> String {
    folder.display().to_string()
}

/// A date as it is typed.
pub(super) fn date(text: &str) -> Result<NaiveDate, String> {
    NaiveDate::parse_from_str(text, "%Y-%m-%d").map_err(|_| "expected a date such as 2026-03-01".to_owned())
}
