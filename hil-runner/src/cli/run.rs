//! `hil-runner run`.

use std::io::{self, Read as _};
use std::path::Path;
use std::rc::Rc;

use chrono::Utc;

use super::args::RunArgs;
use super::ask::{Job, Refused, jobs};
use super::console::Console;
use super::corrections::Store;
use super::exit::Exit;
use super::files::{Files, RigFileUse, of_rig};
use super::keep::Keeper;
use super::operator::{Keyboard, TerminalOperator};
use super::out::Out;
use super::places::history_of_run;
use super::progress::FlashProgress;
use super::seed::{command_again, seed_or_new};
use super::signals::stop_on_interrupt;
use slotwise_bench::{Bench, Operator, Outside, Tracing, open};
use slotwise_record::{Listener, Listeners, Start};
use slotwise_record::{Record, Recorder, RunOutcome};
use slotwise_report::{Detail, ProgressBar, Terminal};
use slotwise_rig::Rig;
use slotwise_rig::reply::{BridgeRecord, Driver};
use slotwise_run::judge::Judge;
use slotwise_run::{Order, execute, never_began, skip};
use slotwise_terms::Stop;
use slotwise_terms::files::shortage;

/// What the scenarios of one call have in common.
struct Session<'a> {
    seed: u64,
    tracing: Tracing,
    judge: &'a Judge,
    stop: &'a Stop,
    image: Option<&'a Path>,
    keyboard: Option<Rc<Keyboard>>,
    out: Option<&'a Out>,
    keeper: Option<Keeper>,
    store: Option<Store>,
    detail: Detail,
    json: bool,
}

pub(super) fn run(console: &mut Console, args: &RunArgs) -> Exit {
    if let Err(exit) = files(args).check(console) {
        return exit;
    }
    let Ok(store) = Store::open(console, args) else { return Exit::BadInput };
    let Ok(jobs) = jobs(console, &args.scenarios, args.rig.rig.as_deref()) else { return Exit::BadInput };
    if store.as_ref().is_some_and(|store| store.check(console, &jobs).is_err()) {
        return Exit::BadInput;
    }
    // Signals are caught before the folder is marked, so that from then on one ends the run with a record.
    let Ok((judge, stop)) = prepare(console) else { return Exit::BadInput };
    let names: Vec<&str> = jobs.iter().map(|job| job.scenario.name.as_str()).collect();
    let out = match args.out.as_deref().map(|path| Out::prepare(path, &names)).transpose() {
        Ok(out) => out,
        Err(error) => {
            console.error(error);
            return Exit::BadInput;
        }
    };
    let history = history_of_run(args.history.as_deref());
    let Ok(keeper) = history.map(|path| Keeper::open(console, &path)).transpose() else {
        return Exit::BadInput;
    };
    if args.until_input_ends
        && let Err(error) = stop_when_input_ends(&stop)
    {
        console.error(error);
        return Exit::BadInput;
    }
    let tracing = if out.is_some() { Tracing::On } else { Tracing::Off };
    let seed = seed_or_new(args.rig.seed);
    let detail = if args.tables { Detail::Full } else { Detail::Brief };
    // Only a real line needs an operator; other runs leave standard input alone.
    let needs_hands = jobs.iter().any(|job| job.rig.is_real());
    let keyboard = needs_hands.then(Keyboard::at_terminal).flatten();
    let session = Session {
        seed,
        tracing,
        judge: &judge,
        stop: &stop,
        image: args.rig.image.as_deref(),
        keyboard,
        out: out.as_ref(),
        keeper,
        store,
        detail,
        json: args.json,
    };
    if args.json {
        console.keep_lines_aside();
    }
    let mut exit = Exit::AllMet;
    let mut without_changes = Exit::AllMet;
    let mut skipping = None;
    for (place, job) in jobs.iter().enumerate() {
        let ended = match skipping {
            None => session.run(console, place, job),
            Some(reason) => session.skip(console, place, job, reason),
        };
        let Ended { outcome, exit: this, without_changes: alone } = ended;
        exit = exit.max(this);
        without_changes = without_changes.max(alone);
        skipping = skipping.or(match outcome {
            _ if this == Exit::BadInput && outcome == RunOutcome::Interrupted => Some("the rig cannot be opened"),
            RunOutcome::Broken => Some("the rig is broken, see the scenario before"),
            RunOutcome::Interrupted => Some("the run was interrupted"),
            RunOutcome::Passed | RunOutcome::Failed | RunOutcome::Incomplete => None,
        });
    }
    console.line(&exit.line(without_changes)).max(exit)
}

/// The files of the command line. `--store-corrections` also writes the rig file.
fn files(args: &RunArgs) -> Files {
    let mut files = Files::default();
    for scenario in &args.scenarios {
        files.reads_if_file("scenario", scenario);
    }
    of_rig(&mut files, &args.rig, if args.store_corrections { RigFileUse::Writes } else { RigFileUse::Reads });
    if let Some(out) = &args.out {
        files.writes_inside("--out", out);
    }
    if let Some(history) = history_of_run(args.history.as_deref()) {
        files.writes_history("--history", &history);
    }
    files
}

/// How a run ended, and its exit code.
struct Ended {
    outcome: RunOutcome,
    exit: Exit,
    /// The exit code without the changes against earlier runs.
    without_changes: Exit,
}

/// Stops the run when the process that started it closes standard input or ends.
fn stop_when_input_ends(stop: &Stop) -> io::Result<()> {
    let stop = stop.clone();
    let listener = std::thread::Builder::new().spawn(move || {
        let mut bytes = [0; 64];
        // The bytes are discarded. An error counts as the end of the input.
        while std::io::stdin().read(&mut bytes).is_ok_and(|count| count > 0) {}
        stop.raise();
    });
    // The thread ends with the program.
    listener.map(drop)
}

/// The judge and the stop flag, which do not depend on the arguments.
fn prepare(console: &Console) -> Result<(Judge, Stop), Refused> {
    let judge = Judge::new().map_err(|error| refused(console, &error))?;
    let stop = stop_on_interrupt(console)?;
    Ok((judge, stop))
}

fn refused(console: &Console, error: &dyn std::fmt::Display) -> Refused {
    console.error(error);
    Refused(Exit::BadInput)
}

impl Session<'_> {
    fn run(&self, console: &mut Console, place: usize, job: &Job) -> Ended {
        let Job { rig, scenario } = job;
        let mut progress = FlashProgress::new(console.error_look());
        let operator = self
            .keyboard
            .as_ref()
            .map(|keyboard| -> Box<dyn Operator> { Box::new(TerminalOperator::new(keyboard, self.stop)) });
        let outside = Outside { image: self.image, listener: &mut progress, operator };
        let opened = open(rig, self.seed, self.tracing, outside);
        drop(progress);
        let mut bench = match opened {
            Ok(bench) => bench,
            Err(error) if error.is_bad_input() || shortage::of_handles().is_some() => {
                let Refused(refused) = Refused::of(console, &error);
                let ended = self.skip(console, place, job, "the rig cannot be opened");
                return Ended { exit: ended.exit.max(refused), without_changes: refused, ..ended };
            }
            Err(error) => {
                let start = self.start_without_bench(job);
                return self.run_and_write(console, place, &start, |listener| {
                    never_began(&start, &error.to_string(), listener);
                    None
                });
            }
        };
        let order = Order { rig, scenario, seed: self.seed, judge: self.judge };
        let start = Start { rig, scenario, seed: self.seed, driver: bench.driver(), bridge: bench.bridge() };
        let mut bar = ProgressBar::new(console.error_look());
        self.run_and_write(console, place, &start, |listener| {
            // The bar is the first listener, so that it is removed before a line is written.
            execute(order, bench.as_mut(), self.stop, &mut Listeners(vec![&mut bar, listener]));
            Some(bench)
        })
    }

    fn skip(&self, console: &mut Console, place: usize, job: &Job, reason: &str) -> Ended {
        let start = self.start_without_bench(job);
        self.run_and_write(console, place, &start, |listener| {
            skip(&start, reason, listener);
            None
        })
    }

    /// The start of a run whose rig could not be opened or was not tried.
    fn start_without_bench<'j>(&self, job: &'j Job) -> Start<'j> {
        let driver = Driver { name: "slotwise".into(), version: "not asked".into() };
        Start { rig: &job.rig, scenario: &job.scenario, seed: self.seed, driver, bridge: BridgeRecord::default() }
    }

    /// Runs `run` with the listeners of this session, then prints and writes its results.
    fn run_and_write(
        &self,
        console: &mut Console,
        place: usize,
        start: &Start<'_>,
        run: impl FnOnce(&mut dyn Listener) -> Option<Box<dyn Bench>>,
    ) -> Ended {
        if self.json {
            return self.run_and_write_json(console, place, start, run);
        }
        let look = console.look;
        let mut recorder = Recorder::new(start, Utc::now());
        let again = command_again(self.seed);
        let mut terminal = Terminal::new(console.out(), look, self.detail).with_command(again);
        if place > 0 {
            terminal.line("");
        }
        let mut bench = run(&mut Listeners(vec![&mut recorder, &mut terminal]));
        let record = recorder.into_record();
        terminal.close(&record);
        let written = self.write(place, &record, bench.as_deref_mut());
        if let Ok(Some(text)) = &written {
            terminal.line(text);
        }
        let exit = terminal.into_error().map_or(Exit::AllMet, |error| console.output_error(&error));
        self.end(console, place, start.rig, &record, exit, written.map(drop))
    }

    /// The same with the record as a line of JSON on standard output.
    fn run_and_write_json(
        &self,
        console: &mut Console,
        place: usize,
        start: &Start<'_>,
        run: impl FnOnce(&mut dyn Listener) -> Option<Box<dyn Bench>>,
    ) -> Ended {
        let mut recorder = Recorder::new(start, Utc::now());
        let mut bench = run(&mut recorder);
        let record = recorder.into_record();
        let written = self.write(place, &record, bench.as_deref_mut());
        if let Ok(Some(text)) = &written {
            console.line(text);
        }
        let exit = console.json_line(&record);
        self.end(console, place, start.rig, &record, exit, written.map(drop))
    }

    /// Keeps what is to be kept of a run, and says how it ended.
    fn end(
        &self,
        console: &mut Console,
        place: usize,
        rig: &Rig,
        record: &Record,
        so_far: Exit,
        written: Result<(), super::out::ResultsError>,
    ) -> Ended {
        let mut exit = so_far;
        if let Err(error) = written {
            console.error(error);
            exit = Exit::BadInput;
        }
        if let Some(store) = &self.store {
            exit = exit.max(store.store(console, rig, record));
        }
        let outcome = record.end.outcome;
        let without_changes = exit.max(outcome.into());
        Ended { outcome, exit: without_changes.max(self.keep(console, place, record)), without_changes }
    }

    /// Adds a run to the history, if there is one, and reports changes.
    fn keep(&self, console: &mut Console, place: usize, record: &Record) -> Exit {
        let Some(keeper) = &self.keeper else { return Exit::AllMet };
        let folder = self.out.and_then(|out| std::path::absolute(out.folder(place)).ok());
        keeper.keep(console, folder.as_deref(), record)
    }

    fn write(
        &self,
        place: usize,
        record: &Record,
        bench: Option<&mut (dyn Bench + 'static)>,
    ) -> Result<Option<String>, super::out::ResultsError> {
        let bench = bench.map(|bench| bench as &mut dyn Bench);
        self.out.map(|out| Ok(out.write(place, record, bench)?.text())).transpose()
    }
}
