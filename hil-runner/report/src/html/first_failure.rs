//! The waveform of the first failure: what the line did while the first step that did not pass began to go wrong.

use super::HtmlError;
use super::page::{Plot, Table};
use crate::plots::{Chart, Curve};
use crate::step::place;
use slotwise_record::{Record, StepRecord};
use slotwise_waveform::Levels;

pub(super) fn plot(
    record: &Record,
    levels: Option<&Result<Levels, String>>,
    id: &str,
) -> Result<Option<Plot>, HtmlError> {
    let Some(step) = record.first_failure() else { return Ok(None) };
    let title = format!("Waveform at the beginning of step {}", place(&step.place));
    let note_only = |note: &str| Plot {
        heading: title.clone(),
        svg: None,
        legend: Vec::new(),
        note: note.to_owned(),
        table: Table::default(),
    };
    let Some(levels) = levels else { return Ok(Some(note_only("This rig records no waveform, or it was not kept."))) };
    let window = match levels {
        Ok(window) if window.levels.iter().any(|levels| levels.len() > 1) => window,
        Ok(_) => {
            return Ok(Some(note_only(
                "The recorded waveform has nothing of this step: only its end is kept of a long run.",
            )));
        }
        Err(why) => return Ok(Some(note_only(&format!("The waveform cannot be read: {why}")))),
    };
    Ok(Some(drawn(window, step, title, id)?))
}

fn drawn(window: &Levels, step: &StepRecord, title: String, id: &str) -> Result<Plot, HtmlError> {
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
