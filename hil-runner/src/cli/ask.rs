//! Rigs and scenarios named on the command line: read, checked, opened.

use std::path::Path;

use super::args::RigArgs;
use super::console::{Console, message};
use super::exit::Exit;
use super::progress::FlashProgress;
use super::seed::seed_or_new;
use slotwise_bench::{Bench, OpenError, Outside, Tracing, needed_part, open};
use slotwise_rig::{BUILT_IN_RIGS, Rig, built_in_rig};
use slotwise_scenario::{BUILT_IN_SCENARIOS, Scenario, built_in_scenario};
use slotwise_terms::files::shortage;
use slotwise_terms::input::InputErrors;
use slotwise_terms::input::source::is_file_there;
use slotwise_terms::input::words::nearest;

/// The command cannot run, and the cause has been reported. Holds the exit code.
#[derive(Clone, Copy, Debug)]
pub(super) struct Refused(pub(super) Exit);

impl Refused {
    /// Reports a rig that could not be opened.
    pub(super) fn of(console: &Console, error: &OpenError) -> Self {
        let short = if error.is_bad_input() { None } else { shortage::of_handles() };
        match &short {
            Some(short) => console.error(format_args!("{error}; the cause is this computer, not the rig: {short}")),
            None => console.error(error),
        }
        Self(if error.is_bad_input() || short.is_some() { Exit::BadInput } else { Exit::RigBroken })
    }
}

/// The rig name that runs a virtual line on an emulated chip.
pub(super) const EMULATED: &str = "emulated";

/// What a command needs of a rig, which decides whether its file may be without sensors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Need {
    /// The sensors listed in its file, which a scenario judges.
    Sensors,
    /// Readings of the listed sensors.
    Readings,
    /// The line alone. The file of a real rig may list no sensors yet.
    Line,
}

/// The rig of this name, else the built-in `fallback`. A rig that this build has no part for is refused.
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
    // `Rig::load` reports a missing sensor table together with all other problems of the file.
    let all_wrong = |errors| if need == Need::Line { Err(errors) } else { Rig::load(path) };
    let rig = Rig::load_unfilled(path).or_else(all_wrong).map_err(|errors| refused(console, &errors))?;
    match need {
        _ if !rig.inventory.is_empty() => Ok(rig),
        // A virtual line has no sensors to find: `Rig::load` names the missing key.
        _ if rig.virtual_line().is_some() => Rig::load(path).map_err(|errors| refused(console, &errors)),
        Need::Line => Ok(rig),
        Need::Sensors | Need::Readings => {
            let use_of = if need == Need::Sensors {
                "a scenario judges the listed sensors"
            } else {
                "without a sensor name the listed sensors are read"
            };
            console.error(format_args!("{name} lists no sensors yet, and {use_of}"));
            message(&format!("hint: {}", how_to_fill(name)));
            Err(Refused(Exit::BadInput))
        }
    }
}

/// The hint for a rig file that lists no sensors.
pub(super) fn how_to_fill(name: &str) -> String {
    format!(
        "hil-runner scan --rig {name} lists the sensors on the line, hil-runner identify --rig {name} writes them into the file \
         under the labels that you type"
    )
}

/// An open rig, for commands that run no scenario.
pub(super) struct Ready {
    pub(super) rig: Rig,
    pub(super) seed: u64,
    pub(super) bench: Box<dyn Bench>,
}

/// Opens the rig named on the command line, else the built-in one.
pub(super) fn ready(console: &Console, args: &RigArgs) -> Result<Ready, Refused> {
    let rig = rig(console, args.rig.as_deref(), BUILT_IN_RIGS[0], Need::Line)?;
    make_ready(console, args, rig)
}

/// Opens this rig.
pub(super) fn make_ready(console: &Console, args: &RigArgs, rig: Rig) -> Result<Ready, Refused> {
    let seed = seed_or_new(args.seed);
    let mut progress = FlashProgress::new(console.error_look());
    // No operator: commands without a scenario need no actions by hand.
    let outside = Outside { image: args.image.as_deref(), listener: &mut progress, operator: None };
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

/// All scenarios of the command line, each with its rig. Problems of every one of them are reported before the first
/// runs.
pub(super) fn jobs(console: &Console, scenarios: &[String], asked_rig: Option<&str>) -> Result<Vec<Job>, Refused> {
    let first = BUILT_IN_SCENARIOS[0].to_owned();
    let names = if scenarios.is_empty() { std::slice::from_ref(&first) } else { scenarios };
    if let Some(asked) = asked_rig {
        // One rig serves all scenarios: its problems are reported once.
        rig(console, Some(asked), BUILT_IN_RIGS[0], Need::Sensors)?;
    }
    let choice = if scenarios.is_empty() { Choice::Default } else { Choice::Typed };
    let jobs: Vec<Result<Job, Refused>> = names.iter().map(|name| job(console, (name, choice), asked_rig)).collect();
    jobs.into_iter().collect()
}

/// Whether a scenario was named on the command line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Choice {
    Typed,
    Default,
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
        // The default scenario was not typed, so its problems with this rig would only mislead.
        Err(_) if choice == Choice::Default => {
            console.error(format_args!(
                "name a scenario: the default, the built-in {name}, does not fit the sensors of {}",
                asked_rig.unwrap_or(&rig.name)
            ));
            Err(Refused(Exit::BadInput))
        }
        Err(errors) => Err(refused(console, &errors)),
    }
}

/// Whether a typed name is meant as a file, even if there is none.
fn looks_like_file(name: &str) -> bool {
    let path = Path::new(name);
    path.exists() || path.extension().is_some() || path.components().count() > 1
}

fn unknown(console: &Console, what: &str, name: &str, built_in: &[&str]) -> Refused {
    let known = built_in.join(", ");
    console.error(format_args!("expected a {what}: a file, or one of the built-in {known}; found {name:?}"));
    if let Some(like) = nearest(name, built_in.iter().copied()) {
        message(&format!("hint: the nearest built-in one is {like:?}"));
    }
    Refused(Exit::BadInput)
}

fn refused(console: &Console, errors: &InputErrors) -> Refused {
    console.input_errors(errors);
    Refused(Exit::BadInput)
}
