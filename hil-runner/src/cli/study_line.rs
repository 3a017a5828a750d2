//! `hil-runner study line`.

use std::io;

use slotwise::thermometer::Supply;

use super::ask::{self, Need, Ready, Refused, ready};
use super::console::{Console, tell};
use super::exit::Exit;
use super::interrupt::stop_on_interrupt;
use super::line_args::{LineArgs, Power, Strong};
use super::sighting::broken;
use crate::record::units::count;
use crate::report::{describe, line_study_lines};
use crate::rig::{BUILT_IN_RIGS, Rig, RigKind};
use crate::study::line::figures::{MASTER_PF, THRESHOLD_SHARE, USUAL_PF_PER_M};
use crate::study::line::{
    LineOrder, LinePlace, LineStage, LineStop, LineStudy, Numbers, StrongPullUp, Threshold, Told, measure_line,
};

pub(super) fn line(console: &mut Console, args: &LineArgs) -> Exit {
    if args.plan { plan(console, args) } else { measured(console, args) }
}

fn plan(console: &mut Console, args: &LineArgs) -> Exit {
    let rig = match &args.rig.rig {
        Some(asked) => match ask::rig(console, Some(asked), BUILT_IN_RIGS[0], Need::Line) {
            Ok(rig) => Some(rig),
            Err(Refused(exit)) => return exit,
        },
        None => None,
    };
    match numbers(args, rig.as_ref()) {
        Ok(numbers) => show(console, args, None, &LineStudy::of_plan(numbers)),
        Err(missing) => {
            console.error(missing);
            Exit::BadInput
        }
    }
}

/// The numbers of a plan: those that were typed, then those of the rig's file.
fn numbers(args: &LineArgs, rig: Option<&Rig>) -> Result<Numbers, String> {
    let of_rig = rig.and_then(Numbers::of_rig);
    let known = |option: &str, typed: Option<f64>, of_rig: Option<f64>| {
        let why = match rig {
            Some(_) => "and the file of this rig does not tell it",
            None => "or --rig with the file of a virtual rig that tells it",
        };
        typed.or(of_rig).ok_or_else(|| format!("a plan needs {option}, {why}"))
    };
    let line = rig.and_then(Rig::virtual_line);
    let supply_v = known("--supply", args.supply, line.map(|line| f64::from(line.supply_mv) / 1e3))?;
    let pull_up_ohm = known("--pull-up", args.pull_up, of_rig.map(|numbers| numbers.pull_up_ohm))?;
    let cable_m = known("--cable", args.cable, line.map(|line| f64::from(line.cable_mm) / 1e3))?;
    let counted = rig.map(|rig| rig.inventory.len()).and_then(|count| u32::try_from(count).ok());
    let counted = of_rig.map(|numbers| numbers.sensors).or(counted.filter(|count| *count > 0));
    let sensors = args.sensors.map(f64::from);
    known("--sensors", sensors, counted.map(f64::from))?;
    let pf_per_m = args.per_metre.or(of_rig.map(|numbers| numbers.pf_per_m)).unwrap_or(USUAL_PF_PER_M);
    let plan = Numbers::plan(supply_v, pull_up_ohm, 0.0, args.sensors.or(counted).unwrap_or_default());
    let base = of_rig.unwrap_or(plan);
    Ok(Numbers {
        cable_pf: cable_m * pf_per_m + MASTER_PF,
        pf_per_m,
        power: match args.power {
            Some(Power::Local) => Supply::Local,
            Some(Power::Parasite) => Supply::Parasite,
            None => base.power,
        },
        strong_pull_up_ohm: args.strong_pull_up.map_or(base.strong_pull_up_ohm, Strong::ohm),
        threshold_v: supply_v * args.threshold.unwrap_or(THRESHOLD_SHARE),
        timing: args.timing.map_or_else(|| rig.map_or(base.timing, |rig| rig.timing), Into::into),
        recovery_us: base.recovery_us,
        ..plan
    })
}

fn measured(console: &mut Console, args: &LineArgs) -> Exit {
    let Ready { rig, seed, mut bench } = match ready(console, &args.rig) {
        Ok(ready) => ready,
        Err(Refused(exit)) => return exit,
    };
    let stop = match stop_on_interrupt(console) {
        Ok(stop) => stop,
        Err(Refused(exit)) => return exit,
    };
    let told = told(args, &rig);
    let order = LineOrder {
        rig: &rig,
        searches: args.searches,
        reads: args.reads,
        threshold: told.threshold,
        supply_v: told.supply_v,
        pull_up_ohm: told.pull_up_ohm,
        pf_per_m: told.pf_per_m,
        stop: &stop,
    };
    match measure_line(bench.as_mut(), &order, &mut |stage| tell(&stage_text(stage))) {
        Ok(seen) => {
            let place = LinePlace { rig: rig.name.clone(), seed, driver: bench.driver(), bridge: bench.bridge() };
            show(console, args, Some((&rig, seed)), &LineStudy::of_line(place, &rig, seen, &told))
        }
        Err(LineStop::Broken(trouble)) => broken(console, &rig, &trouble),
        Err(LineStop::Interrupted) => {
            tell("interrupted; nothing is reported");
            Exit::NotAllMet
        }
    }
}

/// What no measurement tells: as typed, else as the rig's file says of its own parts. Cable and timing of the model behind a
/// virtual line are not among it: those are measured.
fn told(args: &LineArgs, rig: &Rig) -> Told {
    let line = rig.virtual_line();
    Told {
        supply_v: args.supply.or_else(|| Some(f64::from(line?.supply_mv) / 1e3)),
        pull_up_ohm: args.pull_up.or_else(|| line?.pull_up_ohm.map(f64::from)),
        strong_pull_up: match (args.strong_pull_up, &rig.kind) {
            (Some(Strong::Ohm(ohm)), _) => StrongPullUp::Ohm(ohm),
            (Some(Strong::None), _) => StrongPullUp::None,
            (None, RigKind::Bridge(bridge)) if bridge.strong_pull_up => StrongPullUp::Unsaid,
            (None, _) => match line.and_then(|line| line.strong_pull_up_ohm) {
                Some(ohm) => StrongPullUp::Ohm(ohm.into()),
                None => StrongPullUp::None,
            },
        },
        threshold: args.threshold.map_or(Threshold::Assumed, Threshold::Told),
        pf_per_m: args.per_metre.unwrap_or(USUAL_PF_PER_M),
        error_limit_ppm: args.error_limit,
    }
}

fn stage_text(stage: LineStage) -> String {
    match stage {
        LineStage::Searches(searches) => format!("searching the line {}", times(searches)),
        LineStage::Reads { sensors, reads } => {
            format!("reading the scratchpad of {} {} each", count(sensors, "sensor"), times(reads))
        }
    }
}

fn times(number: u32) -> String {
    if number == 1 { "once".into() } else { format!("{number} times") }
}

fn show(console: &mut Console, args: &LineArgs, on: Option<(&Rig, u64)>, study: &LineStudy) -> Exit {
    let told = if args.json { json(console, study) } else { text(console, on, study) };
    let told = told.and_then(|()| console.out().flush());
    let told = told.map_or_else(|error| console.output_error(&error), |()| Exit::AllMet);
    told.max(if study.unsound.is_empty() { Exit::AllMet } else { Exit::NotAllMet })
}

fn json(console: &mut Console, study: &LineStudy) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *console.out(), study)?;
    writeln!(console.out())
}

fn text(console: &mut Console, on: Option<(&Rig, u64)>, study: &LineStudy) -> io::Result<()> {
    let look = console.look;
    let out = console.out();
    if let Some((rig, seed)) = on {
        writeln!(out, "{}", look.wrap("rig       ", &describe(rig)))?;
        if rig.virtual_line().is_some() {
            writeln!(out, "{}", look.wrap("seed      ", &format!("{seed} (the same again: --seed {seed})")))?;
        }
    }
    for line in line_study_lines(&look, study) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}
