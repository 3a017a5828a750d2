//! The line's timing against its limits: rise and presence pulse step by step, and the margins of the bridge's edges.

use super::HtmlError;
use super::page::{Plot, Table};
use crate::plots::{Chart, Curve};
use crate::step::place;
use slotwise_limits::edges::EdgeRecord;
use slotwise_record::Record;
use slotwise_rig::reply::{LineRecord, SpreadRecord};
use slotwise_terms::units::microseconds;

/// Limits of the presence pulse (DS18B20 datasheet (7/19), AC Electrical Characteristics): delay tPDHIGH 15 us to 60 us, width
/// tPDLOW 60 us to 240 us.
const LIMITS_US: [(f64, &str); 3] = [
    (15.0, "earliest presence, 15 us"),
    (60.0, "latest presence and shortest pulse, 60 us"),
    (240.0, "longest pulse, 240 us"),
];

/// What is measured, and how it is picked from a step's measurements.
type Measured = (&'static str, fn(&LineRecord) -> Option<SpreadRecord>);

const MEASURED: [Measured; 3] = [
    ("rise to the input threshold", |line| line.rise_ns),
    ("delay of the presence pulse", |line| line.presence_delay_ns),
    ("width of the presence pulse", |line| line.presence_width_ns),
];

pub(super) fn presence(record: &Record, id: &str) -> Result<Option<Plot>, HtmlError> {
    let steps: Vec<_> = record.steps.iter().filter_map(|step| Some((step, step.line_report?))).collect();
    let curves: Vec<Curve> = MEASURED
        .iter()
        .enumerate()
        .map(|(look, (name, pick))| {
            let points = steps.iter().filter_map(|(step, line)| Some((f64::from(*step.place.first()?), pick(line)?)));
            let lines = points.map(|(x, SpreadRecord { least, most })| {
                let (least, most) = (f64::from(least) / 1000.0, f64::from(most) / 1000.0);
                // A span of no height would not be seen.
                vec![(x, least.min(most - 0.8)), (x, most)]
            });
            let lines: Vec<Vec<(f64, f64)>> = lines.collect();
            let points = lines.iter().flatten().skip(1).step_by(2).copied().collect();
            Curve { name: (*name).into(), look, lines, points }
        })
        .filter(|curve| !curve.lines.is_empty())
        .collect();
    if curves.is_empty() {
        return Ok(None);
    }
    let chart = Chart {
        id: format!("{id}-line"),
        title: "Rise and presence pulse, step by step".into(),
        description:
            "Rise time of the line, and delay and width of the presence pulse, in each step, with the limits of the \
                      datasheet. The numbers are in the table below."
                .into(),
        x_name: "step".into(),
        y_name: "us".into(),
        curves,
        limits: LIMITS_US.map(|(us, name)| (us, name.to_owned())).into(),
        x_text: Box::new(|step| if step.fract() == 0.0 { format!("{step:.0}") } else { String::new() }),
        ..Chart::default()
    };
    let span = |spread: Option<SpreadRecord>| {
        spread.map_or("none".into(), |SpreadRecord { least, most }| {
            format!("{} to {}", microseconds(least), microseconds(most))
        })
    };
    let rows = steps.iter().map(|(step, line)| {
        let mut row = vec![place(&step.place)];
        row.extend(MEASURED.iter().map(|(_, pick)| span(pick(line))));
        row.push(microseconds(line.grain_ns));
        row.extend([line.resets.to_string(), line.slots.to_string()]);
        row
    });
    let heading = ["Step", "Rise", "Presence after", "Presence for", "To within", "Resets", "Slots"];
    let table = Table {
        caption: "What the bridge measured of the line in each step".into(),
        heading: heading.map(str::to_owned).into(),
        rows: rows.collect(),
    };
    let note =
        "Limits: DS18B20 datasheet (7/19), AC Electrical Characteristics, tPDHIGH and tPDLOW. Steps under an injected \
                fault show it."
            .into();
    Ok(Some(Plot { heading: chart.title.clone(), svg: chart.svg()?, legend: chart.legend(), note, table }))
}

/// The margin of each time that the bridge's edges keep, where the rig sees every edge.
pub(super) fn margins(record: &Record, id: &str) -> Result<Option<Plot>, HtmlError> {
    let Some(edges) = &record.end.edges else { return Ok(None) };
    let mut margins: Vec<(String, f64)> = edges
        .parameters
        .iter()
        .filter_map(|one| {
            let nearest = one.seen?.nearest?;
            Some((one.parameter.symbol().to_owned(), nearest.margin_ns as f64 / 1000.0))
        })
        .collect();
    if margins.is_empty() {
        return Ok(None);
    }
    margins.sort_by(|one, two| two.1.total_cmp(&one.1));
    let lines = margins.iter().zip(0_u32..).map(|((_, us), lane)| vec![(0.0, f64::from(lane)), (*us, f64::from(lane))]);
    let points = margins.iter().zip(0_u32..).map(|((_, us), lane)| (*us, f64::from(lane)));
    let edge = vec![vec![(0.0, -0.6), (0.0, margins.len() as f64 - 0.4)]];
    let chart = Chart {
        id: format!("{id}-margins"),
        title: "Edges of the bridge: smallest margin of each time".into(),
        description: format!(
            "How far each time of the bridge's edges stays from its nearest limit; left of 0 it is broken. {} times were outside. \
             The numbers are in the table below.",
            edges.violated
        ),
        x_name: "us to the nearest limit".into(),
        curves: vec![
            Curve { name: "limit of the datasheet".into(), look: 1, lines: edge, points: Vec::new() },
            Curve { name: "smallest margin".into(), look: 0, lines: lines.collect(), points: points.collect() },
        ],
        lanes: margins.iter().map(|(name, _)| name.clone()).collect(),
        ..Chart::default()
    };
    Ok(Some(Plot {
        heading: chart.title.clone(),
        svg: chart.svg()?,
        legend: chart.legend(),
        note: format!("{} times outside their limits, of all edges of the run.", edges.violated),
        table: table(edges),
    }))
}

fn table(edges: &EdgeRecord) -> Table {
    let heading = ["Time", "Of what", "Limits", "By", "Count", "From", "To", "Margin", "At"];
    Table {
        caption: "Times of the bridge's edges against the datasheets".into(),
        heading: heading.map(str::to_owned).into(),
        rows: edges.parameters.iter().filter_map(crate::edges::row).collect(),
    }
}
