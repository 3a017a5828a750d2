//! `hil-runner study`.

use std::io;
use std::path::Path;

use super::ask::{Ready, Refused, ready};
use super::console::{Console, message};
use super::exit::Exit;
use super::files::{Files, RigFileUse, of_rig};
use super::names::not_writable;
use super::progress::Waiting;
use super::seed::command_again;
use super::sighting::broken;
use super::signals::stop_on_interrupt;
use super::study_args::{ResolutionArgs, StudyArgs, StudySubject};
use super::study_line::line;
use slotwise_bench::Pace as RigPace;
use slotwise_record::MeasuredOn;
#[cfg(feature = "pages")]
use slotwise_report::study_svg;
use slotwise_report::{rig_lines, study_lines};
use slotwise_rig::Rig;
use slotwise_study::{Abandoned, MeasureOrder, MeasuredSensors, Pace, Remark, Stage, Study, Why, Wishes, measure};
#[cfg(feature = "pages")]
use slotwise_terms::files::write_atomically;
use slotwise_terms::parts::Part;
use slotwise_terms::units::{count, rig_time};

pub(super) fn study(console: &mut Console, args: &StudyArgs) -> Exit {
    match &args.subject {
        StudySubject::Resolution(args) => resolution(console, args),
        StudySubject::Line(args) => line(console, args),
    }
}

fn resolution(console: &mut Console, args: &ResolutionArgs) -> Exit {
    if let Some(error) = args.plot.as_ref().and_then(|_| crate::parts::check(Part::Pages).err()) {
        console.error(error);
        return Exit::BadInput;
    }
    if let Some(problem) = args.plot.as_deref().and_then(|path| not_writable("--plot", path)) {
        console.error(problem);
        return Exit::BadInput;
    }
    let mut files = Files::default();
    of_rig(&mut files, &args.rig, RigFileUse::Reads);
    if let Some(path) = &args.plot {
        files.writes("--plot", path);
    }
    if let Err(exit) = files.check(console) {
        return exit;
    }
    let Ready { rig, seed, mut bench } = match ready(console, &args.rig) {
        Ok(ready) => ready,
        Err(Refused(exit)) => return exit,
    };
    let stop = match stop_on_interrupt(console) {
        Ok(stop) => stop,
        Err(Refused(exit)) => return exit,
    };
    let order = MeasureOrder { rig: &rig, repeats: args.repeats, stop: &stop };
    let pace = bench.pace();
    let waiting = Waiting::on(&console.error_look(), "surveying the line");
    let measured = measure(bench.as_mut(), &order, &mut |stage| {
        let text = stage_text(stage, pace);
        waiting.aside(|| message(&text));
        waiting.say(text);
    });
    drop(waiting);
    let measured = match measured {
        Ok(measured) => measured,
        Err(abandoned) => return give_up(console, &rig, &abandoned),
    };
    if stop.is_raised() {
        message("interrupted: the report covers the resolutions measured so far");
    }
    let wishes = wishes(args, &rig, &measured);
    let on = MeasuredOn { rig: rig.name.clone(), seed, driver: bench.driver(), bridge: bench.bridge() };
    let study = Study::of(&rig, on, measured, wishes);
    // Reported on standard error, even if the report itself cannot be written.
    report_not_restored(console, &study.not_restored);
    let drawn = args.plot.as_deref().map_or(Exit::AllMet, |path| draw(console, &study, path));
    let written = if args.json { json(console, &study) } else { text(console, &rig, &study) };
    let written = written.and_then(|()| console.out().flush());
    let written = written.map_or_else(|error| console.output_error(&error), |()| Exit::AllMet);
    let ended = if stop.is_raised() { Exit::NotAllMet } else { Exit::AllMet };
    written.max(drawn).max(exit(&study)).max(ended)
}

/// All met if every sensor took part, answered and converted within the datasheet's time.
fn exit(study: &Study) -> Exit {
    let is_good = study.left_out.is_empty()
        && study.failures.is_empty()
        && study.not_restored.is_empty()
        && study.conversions.iter().all(|row| row.pace != Pace::TooSlow);
    if is_good { Exit::AllMet } else { Exit::NotAllMet }
}

fn stage_text(stage: Stage, pace: RigPace) -> String {
    match stage {
        Stage::Begins { sensors, repeats, at_most_us } => {
            let time = rig_time(at_most_us.saturating_mul(1_000));
            let time = match pace {
                RigPace::RealTime => format!("this takes up to {time}"),
                RigPace::Virtual => {
                    format!("up to {time} of the rig's time, which passes as fast as this machine computes")
                }
            };
            format!(
                "{}, {} of each at each resolution: {time}",
                count(sensors, "sensor"),
                count(repeats as usize, "conversion")
            )
        }
        Stage::Measures(Some(resolution)) => format!("measuring at {} bits", resolution.bits()),
        Stage::Measures(None) => "measuring DS18S20, whose resolution is fixed".into(),
    }
}

fn give_up(console: &Console, rig: &Rig, abandoned: &Abandoned) -> Exit {
    report_not_restored(console, &abandoned.not_restored);
    match &abandoned.why {
        Why::Broken(trouble) => broken(console, rig, trouble),
        Why::NoSensor(_) => {
            console.error(abandoned);
            Exit::NotAllMet
        }
        Why::Interrupted => {
            let settings = if abandoned.not_restored.is_empty() { "; the settings are restored" } else { "" };
            message(&format!("interrupted{settings}; nothing is reported"));
            Exit::NotAllMet
        }
    }
}

fn report_not_restored(console: &Console, remarks: &[Remark]) {
    for remark in remarks {
        console.error(format_args!("{}: {}", remark.sensor, remark.text));
    }
}

fn wishes(args: &ResolutionArgs, rig: &Rig, measured: &MeasuredSensors) -> Wishes {
    let found = u32::try_from(measured.party.members.len()).unwrap_or(u32::MAX);
    Wishes {
        rate_celsius_per_h: args.rate,
        interval_s: args.interval.as_secs_f64(),
        cell_mah: args.cell,
        volts: args.cell_volts.or_else(|| Some(f64::from(rig.virtual_line()?.supply_mv) / 1e3)),
        sensors: args.sensors.unwrap_or(found),
        steps_celsius: args.steps,
        every_s: args.every.map(|every| every.as_secs_f64()),
    }
}

#[cfg(not(feature = "pages"))]
fn draw(_: &Console, _: &Study, _: &Path) -> Exit {
    // Unreachable: `--plot` is refused at the start in this build.
    Exit::BadInput
}

#[cfg(feature = "pages")]
fn draw(console: &Console, study: &Study, path: &Path) -> Exit {
    let svg = match study_svg(study) {
        Ok(svg) => svg,
        Err(error) => {
            console.error(error);
            return Exit::BadInput;
        }
    };
    match write_atomically(path, |out| out.write_all(svg.as_bytes())) {
        Ok(()) => {
            message(&format!("drawing written to {}", path.display()));
            Exit::AllMet
        }
        Err(error) => {
            console.error(error);
            Exit::BadInput
        }
    }
}

fn json(console: &mut Console, study: &Study) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *console.out(), study)?;
    writeln!(console.out())
}

fn text(console: &mut Console, rig: &Rig, study: &Study) -> io::Result<()> {
    let look = console.look;
    let out = console.out();
    let (seed, again) = (study.on.seed, command_again(study.on.seed));
    for line in rig_lines(&look, rig, seed, &again).into_iter().chain(study_lines(&look, study)) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}
