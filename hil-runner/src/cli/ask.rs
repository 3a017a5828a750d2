//! From what was typed to rigs and scenarios that have been read and checked.

use std::path::Path;

use super::args::RigArgs;
use super::console::{Console, tell};
use super::exit::Exit;
use super::flashing::FlashTeller;
use super::seed::seed_or_new;
use slotwise_bench::{Bench, OpenError, Outside, Tracing, needed_part, open};
use slotwise_rig::{BUILT_IN_RIGS, Rig, built_in_rig};
use slotwise_scenario::{BUILT_IN_SCENARIOS, Scenario, built_in_scenario};
use slotwise_terms::files::shortage;
use slotwise_terms::input::InputErrors;
use slotwise_terms::input::source::is_file_there;
use slotwise_terms::input::words::nearest;

/// What was typed is not good. What is wrong has been told.
#[derive(Clone, Copy, Debug)]
pub(super) struct Refused(pub(super) Exit);

impl Refused {
    /// A rig that could not be made ready. Tells of it.
    pub(super) fn of(console: &Console, error: &OpenError) -> Self {
        let short = if error.is_bad_input() { None } else { shortage::of_handles() };
        match &short {
            Some(short) => console.error(format_args!("{error}; not the rig but this computer fails: {short}")),
            None => console.error(error),
        }
        Self(if error.is_bad_input() || short.is_some() { Exit::BadInput } else { Exit::RigBroken })
    }
}

/// The word that puts a virtual rig on an emulated chip.
pub(super) const EMULATED: &str = "emulated";

/// What somebody wants a rig for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Need {
    /// For its sensors, as its file lists them, which a scenario judges.
    Sensors,
    /// For what they read.
    Readings,
    /// For its line. The file of a real one may be without sensors so far.
    Line,
}

/// The rig that was asked for; without a wish `fallback`, a built-in one. This build has all that it needs.
pub(super) fn rig(console: &Console, asked: Option<&str>, fallback: &str, need: Need) -> Result<Rig, Refused> {
    let rig = read_rig(console, asked, fallback, need)?;
    needed_part(&rig).map_or(Ok(()), crate::parts::check).map_err(|error| {
        console.error(error);
        Refused(Exit::BadInput)
    })?;
    Ok(rig)
}

fn read_rig(console: &Console, asked: Option<&str>, fallback: &str, need: Need) -> Result<Rig, Refused> {
    if asked == Some(EMULATED) && !is_file_there(Path::new(EMULATED)) {
        let rig = built_in_rig(fallback).and_then(Rig::emulated);
        return Ok(rig.expect("every built-in rig is a virtual one"));
    }
    let name = asked.unwrap_or(fallback);
    let built_in = asked.is_none() || !is_file_there(Path::new(name));
    if let Some(rig) = built_in.then(|| built_in_rig(name)).flatten() {
        return Ok(rig);
    }
    if !looks_like_file(name) {
        return Err(unknown(console, "rig", name, &BUILT_IN_RIGS));
    }
    load(console, name, need)
}

fn load(console: &Console, name: &str, need: Need) -> Result<Rig, Refused> {
    let path = Path::new(name);
    // A file in which something else is wrong as well is told all of it.
    let all_wrong = |errors| if need == Need::Line { Err(errors) } else { Rig::load(path) };
    let rig = Rig::load_unfilled(path).or_else(all_wrong).map_err(|errors| refused(console, &errors))?;
    match need {
        _ if !rig.inventory.is_empty() => Ok(rig),
        // It says which key is missing: there is no line on which to find them.
        _ if rig.virtual_line().is_some() => Rig::load(path).map_err(|errors| refused(console, &errors)),
        Need::Line => Ok(rig),
        Need::Sensors | Need::Readings => {
            let who = if need == Need::Sensors { "a scenario judges" } else { "without a name this reads" };
            console.error(format_args!("{name} lists no sensors so far, and {who} those that are listed"));
            tell(&format!("hint: {}", how_to_fill(name)));
            Err(Refused(Exit::BadInput))
        }
    }
}

/// How sensors come into a rig file.
pub(super) fn how_to_fill(name: &str) -> String {
    format!(
        "hil-runner scan --rig {name} shows who is on the line, hil-runner identify --rig {name} writes them down by the names that \
         you give them"
    )
}

/// A rig made ready for somebody who runs no scenario.
pub(super) struct Ready {
    pub(super) rig: Rig,
    pub(super) seed: u64,
    pub(super) bench: Box<dyn Bench>,
}

/// Makes the rig ready that was asked for, or the built-in one.
pub(super) fn ready(console: &Console, args: &RigArgs) -> Result<Ready, Refused> {
    let rig = rig(console, args.rig.as_deref(), BUILT_IN_RIGS[0], Need::Line)?;
    make_ready(console, args, rig)
}

/// Makes this rig ready.
pub(super) fn make_ready(console: &Console, args: &RigArgs, rig: Rig) -> Result<Ready, Refused> {
    let seed = seed_or_new(args.seed);
    let mut teller = FlashTeller::new(console.error_look());
    // Nobody is asked to lend a hand: these commands only look.
    let outside = Outside { image: args.image.as_deref(), listener: &mut teller, operator: None };
    match open(&rig, seed, Tracing::Off, outside) {
        Ok(bench) => Ok(Ready { rig, seed, bench }),
        Err(error) => Err(Refused::of(console, &error)),
    }
}

/// A scenario and the rig it runs on.
#[derive(Debug)]
pub(super) struct Job {
    pub(super) rig: Rig,
    pub(super) scenario: Scenario,
}

/// All scenarios that were asked for, each on its rig. Everything that is wrong with any of them is told.
pub(super) fn jobs(console: &Console, scenarios: &[String], asked_rig: Option<&str>) -> Result<Vec<Job>, Refused> {
    let first = BUILT_IN_SCENARIOS[0].to_owned();
    let names = if scenarios.is_empty() { std::slice::from_ref(&first) } else { scenarios };
    if let Some(asked) = asked_rig {
        // One rig for all of them: what is wrong with it is told once.
        rig(console, Some(asked), BUILT_IN_RIGS[0], Need::Sensors)?;
    }
    let choice = if scenarios.is_empty() { Choice::Ours } else { Choice::Typed };
    let jobs: Vec<Result<Job, Refused>> = names.iter().map(|name| job(console, (name, choice), asked_rig)).collect();
    jobs.into_iter().collect()
}

/// Who chose a scenario.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Choice {
    Typed,
    Ours,
}

fn job(console: &Console, (name, choice): (&str, Choice), asked_rig: Option<&str>) -> Result<Job, Refused> {
    let is_file = is_file_there(Path::new(name));
    // A built-in scenario is for the built-in rig of its name.
    let fallback = BUILT_IN_RIGS.into_iter().find(|rig| !is_file && *rig == name).unwrap_or(BUILT_IN_RIGS[0]);
    let rig = rig(console, asked_rig, fallback, Need::Sensors)?;
    let built_in = if is_file { None } else { built_in_scenario(name, &rig) };
    let scenario = match built_in {
        Some(scenario) => scenario,
        None if looks_like_file(name) => Scenario::load(Path::new(name), &rig),
        None => {
            return Err(unknown(console, "scenario", name, &BUILT_IN_SCENARIOS));
        }
    };
    match scenario {
        Ok(scenario) => Ok(Job { rig, scenario }),
        // Nobody has asked for just this one, so what is wrong with it is of no interest.
        Err(_) if choice == Choice::Ours => {
            console.error(format_args!(
                "name a scenario: without one the built-in {name} is run, which is not for the sensors of {}",
                asked_rig.unwrap_or(&rig.name)
            ));
            Err(Refused(Exit::BadInput))
        }
        Err(errors) => Err(refused(console, &errors)),
    }
}

/// Whether somebody who typed this meant a file, even if there is none.
fn looks_like_file(name: &str) -> bool {
    let path = Path::new(name);
    path.exists() || path.extension().is_some() || path.components().count() > 1
}

fn unknown(console: &Console, what: &str, name: &str, built_in: &[&str]) -> Refused {
    let known = built_in.join(", ");
    console.error(format_args!("expected a {what}: a file, or one of the built-in {known}; found {name:?}"));
    if let Some(like) = nearest(name, built_in.iter().copied()) {
        tell(&format!("hint: the nearest built-in one is {like:?}"));
    }
    Refused(Exit::BadInput)
}

fn refused(console: &Console, errors: &InputErrors) -> Refused {
    console.input_errors(errors);
    Refused(Exit::BadInput)
}
