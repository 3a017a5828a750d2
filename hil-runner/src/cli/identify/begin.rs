//! Checks arguments, rig file and rig before the first prompt, then runs the session.

use std::collections::HashSet;
use std::path::Path;
use std::time::Duration;

use super::IdentifyArgs;
use super::book::Book;
use super::conclude::{conclude, report};
use super::session::{Consent, Halt, Order, Session, SessionOutput};
use super::terminal::{Live, Person, Unattended};
use super::words;
use crate::cli::ask::{EMULATED, Ready, Refused, make_ready};
use crate::cli::console::{Console, message};
use crate::cli::exit::Exit;
use crate::cli::files::{Files, RigFileUse, of_rig};
use crate::cli::names::resolve;
use crate::cli::operator::{Keyboard, TerminalOperator};
use crate::cli::sighting::broken;
use crate::cli::signals::stop_on_interrupt;
use slotwise_bench::Operator;
use slotwise_report::describe;
use slotwise_rig::{BUILT_IN_RIGS, Rig, RigFile, check_label};
use slotwise_study::identify::{Entry, HAND, Identified, Renamed, Rules, SimulatedHand, confidence_text};
use slotwise_study::{Member, Party, gather};
use slotwise_terms::Stop;
use slotwise_terms::input::source::is_file_there;

pub(in crate::cli) fn identify(console: &mut Console, args: &IdentifyArgs) -> Exit {
    match prepared(console, args) {
        Ok(prepared) => prepared.run(console, args),
        Err(Refused(exit)) => exit,
    }
}

/// A session whose arguments, rig file and rig have passed their checks.
struct Prepared {
    book: Book,
    ready: Ready,
    hand: Option<SimulatedHand>,
    person: Box<dyn Person>,
    stop: Stop,
}

fn refuse(console: &Console, text: impl std::fmt::Display) -> Refused {
    console.error(text);
    Refused(Exit::BadInput)
}

fn prepared(console: &Console, args: &IdentifyArgs) -> Result<Prepared, Refused> {
    check_labels(&args.labels).map_err(|text| refuse(console, text))?;
    let path = rig_path(args).map_err(|text| refuse(console, text))?;
    let mut files = Files::default();
    of_rig(&mut files, &args.rig(), RigFileUse::Writes);
    files.check(console).map_err(Refused)?;
    let file = RigFile::open(path).map_err(|error| refuse(console, error))?;
    let rig = Rig::load_unfilled(path).map_err(|errors| {
        console.input_errors(&errors);
        Refused(Exit::BadInput)
    })?;
    file.check().map_err(|error| refuse(console, error))?;
    let keyboard = Keyboard::at_terminal();
    if args.labels.is_empty() && keyboard.is_none() {
        return Err(refuse(
            console,
            "cannot prompt for labels: standard input and standard error are not both a terminal; give the labels as \
             arguments",
        ));
    }
    let stop = stop_on_interrupt(console)?;
    let hand = |seed| hand(&rig, &args.hand, seed);
    // Any seed serves to check --hand before the rig is opened, which may take seconds.
    hand(0).map_err(|text| refuse(console, text))?;
    let ready = make_ready(console, &args.rig(), rig.clone())?;
    let hand = hand(ready.seed).map_err(|text| refuse(console, text))?;
    let person: Box<dyn Person> = match keyboard {
        Some(keyboard) => {
            let mut operator = TerminalOperator::new(&keyboard, &stop);
            operator.while_waiting(ready.bench.life());
            Box::new(operator)
        }
        None => Box::new(Unattended),
    };
    Ok(Prepared { book: Book::new(file, rig), ready, hand, person, stop })
}

fn check_labels(labels: &[String]) -> Result<(), String> {
    let mut checked = HashSet::new();
    for label in labels {
        check_label(label).map_err(|problem| format!("label {label:?}: {problem}"))?;
        if !checked.insert(label) {
            return Err(format!("label {label:?}: expected each label once, found it twice"));
        }
    }
    Ok(())
}

/// The path of the rig file. A built-in rig is refused, since it cannot be written.
fn rig_path(args: &IdentifyArgs) -> Result<&Path, String> {
    const COPY: &str = "write one first, such as by hil-runner new rig unnamed my-rig.toml, and name it with --rig";
    let Some(name) = args.rig.as_deref() else {
        return Err(format!("identify needs a rig file to write labels into: {COPY}"));
    };
    let path = Path::new(name);
    if !is_file_there(path) && (BUILT_IN_RIGS.contains(&name) || name == EMULATED) {
        return Err(format!("{name} is built in and cannot be written: {COPY}"));
    }
    Ok(path)
}

/// The simulated hand of a virtual line; `None` for a real line.
fn hand(rig: &Rig, turns: &[String], seed: u64) -> Result<Option<SimulatedHand>, String> {
    if rig.virtual_line().is_none() {
        return if turns.is_empty() {
            Ok(None)
        } else {
            Err("--hand works on simulated lines only; on a real line warm the sensor yourself".into())
        };
    }
    if turns.is_empty() {
        return Ok(SimulatedHand::by_seed(rig, seed));
    }
    let turn = |name: &String| {
        if name == "none" {
            return Ok(Vec::new());
        }
        let meant =
            resolve(rig, std::slice::from_ref(name)).map_err(|wrong| format!("--hand: {}", wrong.join("; ")))?;
        let index = rig.inventory.iter().position(|sensor| meant.first().is_some_and(|meant| meant.rom == sensor.rom));
        index.map(|index| vec![index]).ok_or_else(|| format!("--hand: {name} is not on this line"))
    };
    let turns: Result<Vec<Vec<usize>>, String> = turns.iter().map(turn).collect();
    Ok(SimulatedHand::in_turn(rig, seed, turns?))
}

/// Result lines on standard output, messages and progress on standard error.
struct TerminalOutput<'a> {
    console: &'a mut Console,
    live: Live,
    writes_lines: bool,
    exit: Exit,
}

impl SessionOutput for TerminalOutput<'_> {
    fn message(&mut self, text: &str) {
        self.live.message(text);
    }

    fn show(&mut self, at: Duration, text: &str) {
        self.live.show(at, text);
    }

    fn clear(&mut self) {
        self.live.clear();
    }

    fn result(&mut self, identified: &Identified) {
        if self.writes_lines {
            self.exit = self.exit.max(self.console.line(&line(identified)));
        }
    }

    fn renamed(&mut self, Renamed { label, rom, before }: &Renamed) {
        if self.writes_lines {
            let line = format!("{label}  {rom}  label exchanged, did not move; written, was {before:?}");
            self.exit = self.exit.max(self.console.line(&line));
        }
    }
}

fn line(identified: &Identified) -> String {
    let Identified { label, rom, before, moved_celsius, after_s, chance_at_most, file, .. } = identified;
    let file = match (file, before) {
        (Entry::Unchanged, _) => "already in the rig file".to_owned(),
        (Entry::Written, Some(before)) => format!("written, was {before:?}"),
        (Entry::Written, None) => "written".to_owned(),
    };
    let moved = words::moved(*moved_celsius);
    format!("{label}  {rom}  {moved} in {after_s:.1} s, confidence {}; {file}", confidence_text(*chance_at_most))
}

impl Prepared {
    fn run(self, console: &mut Console, args: &IdentifyArgs) -> Exit {
        let Self { book, ready: Ready { rig, seed, mut bench }, hand, person, stop } = self;
        message(&format!("rig {}; seed {seed}", describe(&rig)));
        let party = match gather(bench.as_mut(), &rig) {
            Ok(party) => party,
            Err(trouble) => return broken(console, &rig, &trouble),
        };
        let look = console.error_look();
        for remark in &party.left_out {
            message(&look.wrap("", &format!("{}: {}; it cannot be identified", remark.sensor, remark.text)));
        }
        if party.members.is_empty() {
            console.error("no sensor on this line can be identified");
            return Exit::NotAllMet;
        }
        if let Some(text) = cannot_rename(&book, &party, args, person.as_ref()) {
            console.error(text);
            return Exit::BadInput;
        }
        for caution in rig.timing_cautions(party.members.iter().map(|member| member.sensor.rom)) {
            message(&look.wrap("caution   ", &caution));
        }
        message(&look.wrap("caution   ", HAND));
        let rules = Rules { least_celsius: args.least, ..Rules::default() };
        let consent = if args.rename { Consent::Given } else { Consent::Asked };
        let order = Order { labels: args.labels.clone(), rules, limit: args.limit, consent };
        let mut output =
            TerminalOutput { live: Live::new(look), console, writes_lines: !args.json, exit: Exit::AllMet };
        let mut session = Session {
            bench: bench.as_mut(),
            members: &party.members,
            book,
            person,
            hand,
            output: &mut output,
            stop,
            identified: Vec::new(),
            renamed: Vec::new(),
            not_identified: Vec::new(),
            skipped: Vec::new(),
        };
        let halt = session.run(&order).err();
        let halt = match halt {
            Some(Halt::NotWritten(_) | Halt::Broken(_)) => halt,
            _ if session.book.still_has(&session.identified, &session.renamed) => halt,
            _ => Some(Halt::Lost),
        };
        let report = report(&session, &order, (&party, seed), halt.as_ref());
        let written = output.exit;
        let console = output.console;
        written.max(conclude(console, args, &report, (&rig, halt)))
    }
}

/// Why a new label cannot be given to any sensor, checked before the first prompt: every sensor has a label, and
/// renaming needs an answer or `--rename`.
fn cannot_rename(book: &Book, party: &Party, args: &IdentifyArgs, person: &dyn Person) -> Option<String> {
    let new = args.labels.iter().find(|label| book.owner(label).is_none())?;
    let has_label = |member: &Member| book.label(member.sensor.rom).is_some();
    (!args.rename && !person.is_there() && party.members.iter().all(has_label)).then(|| {
        format!(
            "no sensor is free for the label {new:?}: each on this line has a label in {}, and without a terminal renaming \
             cannot be confirmed; --rename renames without asking",
            book.path()
        )
    })
}
