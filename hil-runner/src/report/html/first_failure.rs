//! The waveform of the first failure: what the line did while the first step that did not pass began to go wrong.

use std::fs::File;
use std::path::Path;

use super::HtmlError;
use super::chart::{Chart, Curve};
use super::page::{Plot, Table};
use crate::report::step::place;
use slotwise_record::{Record, StepOutcome, StepRecord};
use slotwise_waveform::capture::{Capture, Change, Item, Level};

/// Edges that are shown: a reset, a ROM command and some slots.
const EDGES: usize = 240;
/// Longest time that is shown: a sensor that is busy is looked at for long.
const LONGEST_NS: u64 = 8_000_000;
/// Signals of one picture, the line first.
const LANES: usize = 6;

/// What was found in the file.
struct Window {
    names: Vec<String>,
    /// For each signal the moments in nanoseconds and whether it is high from then on.
    levels: Vec<Vec<(u64, bool)>>,
    end_ns: u64,
}

pub(super) fn plot(record: &Record, path: Option<&Path>, id: &str) -> Result<Option<Plot>, HtmlError> {
    let Some(step) = record.steps.iter().find(|step| matches!(step.outcome, StepOutcome::Failed | StepOutcome::Broken))
    else {
        return Ok(None);
    };
    let title = format!("Waveform at the beginning of step {}", place(&step.place));
    let told = |note: &str| Plot {
        heading: title.clone(),
        svg: None,
        legend: Vec::new(),
        note: note.to_owned(),
        table: Table::default(),
    };
    let Some(path) = path else { return Ok(Some(told("This rig records no waveform, or it was not kept."))) };
    let window = match read(path, step.started_ns, step.ended_ns) {
        Ok(window) if window.levels.iter().any(|levels| levels.len() > 1) => window,
        Ok(_) => {
            return Ok(Some(told(
                "The recorded waveform has nothing of this step: only its end is kept of a long run.",
            )));
        }
        Err(why) => return Ok(Some(told(&format!("The waveform cannot be read: {why}")))),
    };
    Ok(Some(drawn(&window, step, title, id)?))
}

fn drawn(window: &Window, step: &StepRecord, title: String, id: &str) -> Result<Plot, HtmlError> {
    let begin = window.levels.iter().flatten().map(|(at, _)| *at).filter(|at| *at >= step.started_ns).min();
    let begin = begin.unwrap_or(step.started_ns);
    let us = |at: u64| (at.max(begin) - begin) as f64 / 1000.0;
    let count = window.names.len();
    let curves = window.names.iter().zip(&window.levels).enumerate().map(|(number, (name, levels))| {
        let lane = (count - 1 - number) as f64;
        let height = |is_high: bool| if is_high { lane + 0.32 } else { lane - 0.32 };
        let mut line: Vec<(f64, f64)> = Vec::new();
        for (at, is_high) in levels {
            if let Some((_, last)) = line.last().copied() {
                line.push((us(*at), last));
            }
            line.push((us(*at), height(*is_high)));
        }
        if let Some((_, last)) = line.last().copied() {
            line.push((us(window.end_ns), last));
        }
        Curve { name: name.clone(), look: 0, lines: vec![line], points: Vec::new() }
    });
    let chart = Chart {
        id: format!("{id}-waveform"),
        title,
        description: format!(
            "Levels of the line and of who drives it, from {:.6} s of the rig's time on, {:.0} us long.",
            begin as f64 / 1e9,
            us(window.end_ns)
        ),
        x_name: format!("us from {:.6} s of the rig's time on", begin as f64 / 1e9),
        curves: curves.collect(),
        lanes: window.names.iter().rev().cloned().collect(),
        ..Chart::default()
    };
    let note =
        "The line itself above; below, who pulls it low. The whole is in line.vcd, for any waveform viewer.".into();
    let rows = window.levels[0]
        .iter()
        .map(|(at, is_high)| vec![format!("{:.3} us", us(*at)), if *is_high { "high" } else { "low" }.to_owned()]);
    let table = Table {
        caption: "Edges of the line".into(),
        heading: vec!["At".into(), "From then on".into()],
        rows: rows.collect(),
    };
    Ok(Plot { heading: chart.title.clone(), svg: chart.svg()?, legend: Vec::new(), note, table })
}

/// The edges from `from_ns` on, so many of the first signal as are shown, none later than `to_ns`.
fn read(path: &Path, from_ns: u64, to_ns: u64) -> Result<Window, String> {
    let file = File::open(path).map_err(|error| error.to_string())?;
    let capture = Capture::open(file).map_err(|error| error.to_string())?;
    let names: Vec<String> = capture.signals().iter().take(LANES).map(|signal| words(&signal.path)).collect();
    let mut window = Window { levels: vec![Vec::new(); names.len()], names, end_ns: from_ns };
    // The first edge of the step, once there was one.
    let mut first = u64::MAX;
    for item in capture {
        let Change { at_ns: now, signal, level } = match item {
            Item::Change(change) if change.signal < window.levels.len() => change,
            Item::Change(_) => continue,
            Item::Damage(damage) => return Err(format!("line {}: {}", damage.line, damage.why)),
        };
        if now > to_ns || now > first.saturating_add(LONGEST_NS) || window.levels[0].len() > EDGES {
            break;
        }
        let levels = &mut window.levels[signal];
        let is_high = level != Level::Low;
        if now < from_ns {
            // The level at the beginning is that of the last edge before it.
            levels.clear();
            levels.push((from_ns, is_high));
        } else {
            levels.push((now, is_high));
            window.end_ns = now;
            first = first.min(now);
        }
    }
    Ok(window)
}

/// The name of a signal of our own as people read it.
fn words(path: &str) -> String {
    match path.rsplit('.').next().unwrap_or(path) {
        "dq" => "line (DQ)".into(),
        other => other.replace('_', " "),
    }
}
