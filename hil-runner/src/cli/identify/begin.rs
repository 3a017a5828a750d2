//! Sees that all is as it must be before anybody touches anything.

use std::collections::HashSet;
use std::path::Path;
use std::time::Duration;

use super::IdentifyArgs;
use super::book::Book;
use super::conclude::{conclude, report};
use super::live::Live;
use super::person::{Nobody, Person};
use super::session::{Audience, Consent, Halt, Order, Session};
use super::words;
use crate::cli::ask::{EMULATED, Ready, Refused, make_ready};
use crate::cli::console::{Console, tell};
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

/// All that is needed, found good.
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
            "nobody can be asked what sensors are called: standard input and standard error are not both a terminal; give the \
             labels as arguments",
        ));
    }
    let stop = stop_on_interrupt(console)?;
    let hand = |seed| hand(&rig, &args.hand, seed);
    // Before the rig is opened, which may take its time: with any seed.
    hand(0).map_err(|text| refuse(console, text))?;
    let ready = make_ready(console, &args.rig(), rig.clone())?;
    let hand = hand(ready.seed).map_err(|text| refuse(console, text))?;
    let person: Box<dyn Person> = match keyboard {
        Some(keyboard) => {
            let mut operator = TerminalOperator::new(&keyboard, &stop);
            operator.while_waiting(ready.bench.life());
            Box::new(operator)
        }
        None => Box::new(Nobody),
    };
    Ok(Prepared { book: Book::new(file, rig), ready, hand, person, stop })
}

fn check_labels(labels: &[String]) -> Result<(), String> {
    let mut seen = HashSet::new();
    for label in labels {
        check_label(label).map_err(|problem| format!("label {label:?}: {problem}"))?;
        if !seen.insert(label) {
            return Err(format!("label {label:?}: expected each label once, found it twice"));
        }
    }
    Ok(())
}

/// The rig file. There must be one that can be written.
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

/// The hand of a simulated line; none for a real one.
fn hand(rig: &Rig, asked: &[String], seed: u64) -> Result<Option<SimulatedHand>, String> {
    if rig.virtual_line().is_none() {
        return if asked.is_empty() {
            Ok(None)
        } else {
            Err("--hand is for simulated lines: on a real one it is your hand that takes a sensor".into())
        };
    }
    if asked.is_empty() {
        return Ok(SimulatedHand::by_seed(rig, seed));
    }
    let turn = |name: &String| {
        if name == "none" {
            return Ok(Vec::new());
        }
        let meant =
            resolve(rig, std::slice::from_ref(name)).map_err(|wrong| format!("--hand: {}", wrong.join("; ")))?;
        let place = rig.inventory.iter().position(|sensor| meant.first().is_some_and(|meant| meant.rom == sensor.rom));
        place.map(|place| vec![place]).ok_or_else(|| format!("--hand: {name} is not on this line"))
    };
    let turns: Result<Vec<Vec<usize>>, String> = asked.iter().map(turn).collect();
    Ok(SimulatedHand::in_turn(rig, seed, turns?))
}

/// Those who look on: lines of results on standard output, all else on standard error.
struct Onlookers<'a> {
    console: &'a mut Console,
    live: Live,
    writes_lines: bool,
    exit: Exit,
}

impl Audience for Onlookers<'_> {
    fn tell(&mut self, text: &str) {
        self.live.tell(text);
    }

    fn show(&mut self, at: Duration, text: &str) {
        self.live.show(at, text);
    }

    fn quiet(&mut self) {
        self.live.quiet();
    }

    fn result(&mut self, identified: &Identified) {
        if self.writes_lines {
            self.exit = self.exit.max(self.console.line(&line(identified)));
        }
    }

    fn renamed(&mut self, Renamed { label, rom, before }: &Renamed) {
        if self.writes_lines {
            let line = format!("{label}  {rom}  in exchange, not moved; written, was {before:?}");
            self.exit = self.exit.max(self.console.line(&line));
        }
    }
}

fn line(identified: &Identified) -> String {
    let Identified { label, rom, before, moved_celsius, after_s, chance_at_most, file, .. } = identified;
    let file = match (file, before) {
        (Entry::Unchanged, _) => "called so already".to_owned(),
        (Entry::Written, Some(before)) => format!("written, was {before:?}"),
        (Entry::Written, None) => "written".to_owned(),
    };
    let moved = words::moved(*moved_celsius);
    format!("{label}  {rom}  {moved} in {after_s:.1} s, confidence {}; {file}", confidence_text(*chance_at_most))
}

impl Prepared {
    fn run(self, console: &mut Console, args: &IdentifyArgs) -> Exit {
        let Self { book, ready: Ready { rig, seed, mut bench }, hand, person, stop } = self;
        tell(&format!("rig {}; seed {seed}", describe(&rig)));
        let party = match gather(bench.as_mut(), &rig) {
            Ok(party) => party,
            Err(trouble) => return broken(console, &rig, &trouble),
        };
        let look = console.error_look();
        for remark in &party.left_out {
            tell(&look.wrap("", &format!("{}: {}; it cannot be identified", remark.sensor, remark.text)));
        }
        if party.members.is_empty() {
            console.error("no sensor on this line can take part");
            return Exit::NotAllMet;
        }
        if let Some(text) = cannot_rename(&book, &party, args, person.as_ref()) {
            console.error(text);
            return Exit::BadInput;
        }
        for caution in rig.timing_cautions(party.members.iter().map(|member| member.sensor.rom)) {
            tell(&look.wrap("caution   ", &caution));
        }
        tell(&look.wrap("caution   ", HAND));
        let rules = Rules { least_celsius: args.least, ..Rules::default() };
        let consent = if args.rename { Consent::Given } else { Consent::Asked };
        let order = Order { labels: args.labels.clone(), rules, limit: args.limit, consent };
        let mut onlookers = Onlookers { live: Live::new(look), console, writes_lines: !args.json, exit: Exit::AllMet };
        let mut session = Session {
            bench: bench.as_mut(),
            members: &party.members,
            book,
            person,
            hand,
            audience: &mut onlookers,
            stop,
            identified: Vec::new(),
            renamed: Vec::new(),
            not_identified: Vec::new(),
            passed: Vec::new(),
        };
        let halt = session.run(&order).err();
        let halt = match halt {
            Some(Halt::NotWritten(_) | Halt::Broken(_)) => halt,
            _ if session.book.still_has(&session.identified, &session.renamed) => halt,
            _ => Some(Halt::Lost),
        };
        let report = report(&session, &order, (&party, seed), halt.as_ref());
        let told = onlookers.exit;
        let console = onlookers.console;
        told.max(conclude(console, args, &report, (&rig, halt)))
    }
}

/// Why no label that is new can be given, if that is so: known before anybody warms a sensor.
fn cannot_rename(book: &Book, party: &Party, args: &IdentifyArgs, person: &dyn Person) -> Option<String> {
    let new = args.labels.iter().find(|label| book.owner(label).is_none())?;
    let has_label = |member: &Member| book.label(member.sensor.rom).is_some();
    (!args.rename && !person.is_there() && party.members.iter().all(has_label)).then(|| {
        format!(
            "no sensor can be called {new:?}: each on this line has a label in {} already, and nobody can be asked; --rename renames \
             them",
            book.path()
        )
    })
}
