//! `hil-runner study line`.

use std::io;

use super::ask::{self, Need, Ready, Refused, ready};
use super::console::{Console, message};
use super::exit::Exit;
use super::line_args::{LineArgs, Power};
use super::progress::Waiting;
use super::seed::command_again;
use super::sighting::broken;
use super::signals::stop_on_interrupt;
use slotwise_record::MeasuredOn;
use slotwise_report::{TextLook, caution_line, line_study_lines, rig_lines};
use slotwise_rig::{BUILT_IN_RIGS, Rig};
use slotwise_study::line::figures::{MASTER_PF, THRESHOLD_SHARE, USUAL_OHM, USUAL_PF_PER_M};
use slotwise_study::line::{
    Filed, LineOrder, LineStage, LineStop, LineStudy, Numbers, PullUpSource, SlotTiming, StatedNumbers, Threshold,
    measure_line,
};
use slotwise_terms::units::count;

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
    match planned(args, rig.as_ref()) {
        Ok(study) => show(console, args, None, &study),
        Err(missing) => {
            console.error(missing);
            Exit::BadInput
        }
    }
}

/// A plan from the options, with the rig file in place of those not given, for a rig of any kind.
fn planned(args: &LineArgs, rig: Option<&Rig>) -> Result<LineStudy, String> {
    let filed = rig.map(Filed::of);
    let known = |option: &str, typed: Option<f64>, of_file: fn(&Filed) -> Option<f64>| {
        let why = match rig {
            Some(_) => "which the file of this rig does not give",
            None => "or --rig with the file of a virtual rig that gives it",
        };
        typed.or(filed.as_ref().and_then(of_file)).ok_or_else(|| format!("a plan needs {option}, {why}"))
    };
    let supply_v = known("--supply", args.supply, |filed| filed.supply_v)?;
    let pull_up_ohm = args.pull_up.or(filed.and_then(|filed| filed.pull_up_ohm));
    let cable_m = known("--cable", args.cable, |filed| filed.cable_m)?;
    let counted = |filed: &Filed| (filed.sensors > 0).then_some(filed.sensors.into());
    known("--sensors", args.sensors.map(f64::from), counted)?;
    let sensors = args.sensors.or(filed.map(|filed| filed.sensors)).unwrap_or_default();
    let plan = Numbers::plan(supply_v, pull_up_ohm.unwrap_or(USUAL_OHM.into()), cable_m, sensors);
    let pf_per_m = args.per_metre.or(filed.and_then(|filed| filed.pf_per_m)).unwrap_or(plan.pf_per_m);
    let numbers = Numbers {
        cable_pf: cable_m * pf_per_m + MASTER_PF,
        pf_per_m,
        parasites: match args.power {
            Some(Power::Local) => 0,
            Some(Power::Parasite) => sensors,
            None => filed.map_or(0, |filed| filed.parasites_among(sensors)),
        },
        strong_pull_up: args.strong_pull_up.or(filed.map(|filed| filed.strong_pull_up)).unwrap_or(plan.strong_pull_up),
        threshold_v: supply_v * args.threshold.unwrap_or(THRESHOLD_SHARE),
        timing: match (args.timing, filed) {
            (Some(_), Some(Filed { timing: SlotTiming::Uart, .. })) => {
                return Err("--timing does not apply to a serial adapter: its baud rates fix the slot times".into());
            }
            (Some(timing), _) => timing.into(),
            (None, filed) => filed.map_or(plan.timing, |filed| filed.timing),
        },
        recovery_us: filed.map_or(plan.recovery_us, |filed| filed.recovery_us),
        ..plan
    };
    Ok(match (pull_up_ohm, filed) {
        (Some(_), _) => LineStudy::of_plan(numbers),
        (None, filed) => {
            let source = filed.map_or(PullUpSource::Unsaid, |filed| filed.pull_up);
            LineStudy::of_plan_without_pull_up(numbers, source)
        }
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
    let given = given(args, &rig);
    let order = LineOrder {
        rig: &rig,
        searches: args.searches,
        reads: args.reads,
        threshold: given.threshold,
        supply_v: given.supply_v,
        pull_up_ohm: given.pull_up_ohm,
        pf_per_m: given.pf_per_m,
        stop: &stop,
    };
    let look = console.error_look();
    let waiting = Waiting::on(&look, "surveying the line");
    let measured = measure_line(bench.as_mut(), &order, &mut |stage| {
        let text = stage_text(&look, stage);
        waiting.aside(|| message(&text));
        waiting.say(text);
    });
    drop(waiting);
    match measured {
        Ok(measured) => {
            if stop.is_raised() {
                message("interrupted: the report covers what was measured so far");
            }
            let place = MeasuredOn { rig: rig.name.clone(), seed, driver: bench.driver(), bridge: bench.bridge() };
            let shown = show(console, args, Some((&rig, seed)), &LineStudy::of_line(place, &rig, measured, &given));
            if stop.is_raised() { shown.max(Exit::NotAllMet) } else { shown }
        }
        Err(LineStop::Broken(trouble)) => broken(console, &rig, &trouble),
        Err(LineStop::Interrupted) => {
            message("interrupted; nothing is reported");
            Exit::NotAllMet
        }
    }
}

/// Values that cannot be measured: from the options, else from the rig file. Cable and timing of a virtual line are not
/// among them, since those are measured.
fn given(args: &LineArgs, rig: &Rig) -> StatedNumbers {
    let filed = Filed::of(rig);
    StatedNumbers {
        supply_v: args.supply.or(filed.supply_v),
        pull_up_ohm: args.pull_up.or(filed.pull_up_ohm),
        strong_pull_up: args.strong_pull_up.unwrap_or(filed.strong_pull_up),
        threshold: args.threshold.map_or(Threshold::Assumed, Threshold::Stated),
        pf_per_m: args.per_metre.unwrap_or(USUAL_PF_PER_M),
        error_limit_ppm: args.error_limit,
    }
}

fn stage_text(look: &TextLook, stage: LineStage) -> String {
    let text = match stage {
        LineStage::Searches(searches) => format!("searching the line {}", times(searches)),
        LineStage::Reads { sensors, reads } => {
            format!("reading the scratchpad of {} {} each", count(sensors, "sensor"), times(reads))
        }
    };
    look.wrap("", &text)
}

fn times(number: u32) -> String {
    if number == 1 { "once".into() } else { format!("{number} times") }
}

fn show(console: &mut Console, args: &LineArgs, on: Option<(&Rig, u64)>, study: &LineStudy) -> Exit {
    let written = if args.json { json(console, study) } else { text(console, on, study) };
    let written = written.and_then(|()| console.out().flush());
    let written = written.map_or_else(|error| console.output_error(&error), |()| Exit::AllMet);
    written.max(if study.unsound.is_empty() { Exit::AllMet } else { Exit::NotAllMet })
}

fn json(console: &mut Console, study: &LineStudy) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *console.out(), study)?;
    writeln!(console.out())
}

fn text(console: &mut Console, on: Option<(&Rig, u64)>, study: &LineStudy) -> io::Result<()> {
    let look = console.look;
    let out = console.out();
    let opening = match on {
        Some((rig, seed)) => rig_lines(&look, rig, seed, &command_again(seed)),
        None => vec![caution_line(&look)],
    };
    for line in opening.into_iter().chain(line_study_lines(&look, study)) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn progress_lines_are_no_wider_than_the_terminal() {
        let look = TextLook { width: Some(40), ..TextLook::PLAIN };
        let text = stage_text(&look, LineStage::Reads { sensors: 8, reads: 100 });
        assert!(text.lines().count() > 1 && text.lines().all(|line| line.chars().count() <= 40), "{text}");
    }
}
