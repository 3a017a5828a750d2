//! Each watched figure through the last runs of the same scenario on the same rig.

use std::collections::BTreeMap;

use super::HtmlError;
use super::page::{Plot, Table};
use crate::plots::{Chart, Curve};
use slotwise_past::{FigureKind, FigureSubject, FindingRow, RunId, RunRow, SeriesPast};
use slotwise_record::Record;

/// Sensors of one picture.
const CURVES: usize = 16;
/// Fewest runs that make a curve.
const FEWEST: usize = 2;

/// The values of one subject, by place of the run.
type Values = BTreeMap<FigureSubject, Vec<(usize, f64)>>;

/// Plots of all figures.
pub(super) fn plots(past: &SeriesPast, record: &Record, id: &str) -> Result<Vec<Plot>, HtmlError> {
    let asked = Asked { runs: &past.runs, figures: figures(past), findings: &past.findings };
    if asked.runs.len() < FEWEST {
        return Ok(Vec::new());
    }
    asked.figures.iter().map(|(kind, values)| plot(*kind, &highest(values), &asked, record, id)).collect()
}

/// Of each sensor the highest resolution alone: what a clock does shows there most.
fn highest(values: &Values) -> Values {
    let mut highest: BTreeMap<FigureSubject, FigureSubject> = BTreeMap::new();
    for subject in values.keys() {
        let whose = subject.rom().map_or(FigureSubject::Whole, FigureSubject::sensor);
        // Subjects come in the order of their resolutions.
        highest.insert(whose, subject.clone());
    }
    highest.into_values().filter_map(|subject| Some((subject.clone(), values.get(&subject)?.clone()))).collect()
}

struct Asked<'a> {
    /// From the oldest on.
    runs: &'a [RunRow],
    figures: BTreeMap<FigureKind, Values>,
    findings: &'a [FindingRow],
}

fn figures(of: &SeriesPast) -> BTreeMap<FigureKind, Values> {
    let places: BTreeMap<RunId, usize> = of.runs.iter().enumerate().map(|(place, row)| (row.id, place)).collect();
    let mut figures: BTreeMap<FigureKind, Values> = BTreeMap::new();
    for past in &of.figures {
        let Some(place) = places.get(&past.run) else { continue };
        let figure = &past.figure;
        // What is bad of a count, in per cent.
        let value = match figure.kind {
            FigureKind::Found => 100.0 * (1.0 - figure.value / (figure.of.max(1) as f64)),
            kind if kind.is_count() => 100.0 * figure.value / (figure.of.max(1) as f64),
            kind => figure.value / kind.unit().1,
        };
        figures.entry(figure.kind).or_default().entry(figure.subject.clone()).or_default().push((*place, value));
    }
    figures
}

fn unit(kind: FigureKind) -> &'static str {
    if kind.is_count() { "%" } else { kind.unit().0 }
}

fn title(kind: FigureKind) -> String {
    let what = if kind == FigureKind::Found { "missed by searches" } else { kind.words() };
    format!("History: {what}")
}

fn plot(kind: FigureKind, values: &Values, asked: &Asked<'_>, record: &Record, id: &str) -> Result<Plot, HtmlError> {
    let name = |subject: &FigureSubject| match subject {
        FigureSubject::Whole => kind.words().to_owned(),
        FigureSubject::Sensor { rom, bits } => {
            let label =
                record.rig.inventory.iter().find(|sensor| sensor.rom == *rom).map(|sensor| sensor.label.clone());
            let label = label.unwrap_or_else(|| rom.to_string());
            bits.map_or(label.clone(), |bits| format!("{label}, {bits} bits"))
        }
    };
    let points = |values: &[(usize, f64)]| values.iter().map(|(place, value)| (*place as f64, *value)).collect();
    let curves: Vec<Curve> = values
        .iter()
        .take(CURVES)
        .enumerate()
        .map(|(look, (subject, values))| Curve {
            name: name(subject),
            look,
            lines: vec![points(values)],
            points: if values.len() == 1 { points(values) } else { Vec::new() },
        })
        .collect();
    let marks = marks(kind, values, asked);
    let nights: Vec<String> =
        asked.runs.iter().map(|run| run.night.clone().unwrap_or_else(|| run.started_at[..10].to_owned())).collect();
    let chart = Chart {
        id: format!("{id}-history-{}", kind.name()),
        title: title(kind),
        description: format!(
            "{} in the last {} runs of this scenario on this rig, in {}. The numbers are in the table below.",
            kind.words(),
            asked.runs.len(),
            unit(kind)
        ),
        x_name: "night".into(),
        y_name: unit(kind).into(),
        curves,
        marks: marks.clone(),
        x_text: Box::new(move |place| {
            let whole = place.round();
            let near = (place - whole).abs() < 0.01 && whole >= 0.0;
            // Month and day: the year is the same mostly, and in the table.
            nights
                .get(whole as usize)
                .filter(|_| near)
                .map_or(String::new(), |night| night.get(5..).unwrap_or(night).into())
        }),
        ..Chart::default()
    };
    let is_nothing = kind.is_count() && values.values().flatten().all(|(_, value)| *value == 0.0);
    let note = if is_nothing {
        format!("None in the last {} runs.", asked.runs.len())
    } else if marks.is_empty() {
        String::new()
    } else {
        "Ringed: runs in which it was found to have changed.".into()
    };
    let rows = values.iter().map(|(subject, values)| {
        let of = |value: Option<f64>| value.map_or("none".into(), |value| format!("{value:.3} {}", unit(kind)));
        let numbers = || values.iter().map(|(_, value)| *value);
        vec![
            name(subject),
            values.len().to_string(),
            of(numbers().reduce(f64::min)),
            of(numbers().reduce(f64::max)),
            of(numbers().next_back()),
        ]
    });
    let table = Table {
        caption: format!("{} of each run, summed up", title(kind)),
        heading: ["Of", "Runs", "Least", "Most", "Last"].map(str::to_owned).into(),
        rows: rows.collect(),
    };
    // A picture without points is left out.
    let (svg, legend) = if is_nothing { (None, Vec::new()) } else { (chart.svg()?, chart.legend()) };
    Ok(Plot { heading: chart.title.clone(), svg, legend, note, table })
}

/// The points of runs that showed a finding about this figure.
fn marks(kind: FigureKind, values: &Values, asked: &Asked<'_>) -> Vec<(f64, f64)> {
    let mut marks = Vec::new();
    for finding in asked.findings {
        let is_about = finding.matter.ends_with(kind.name())
            || (kind == FigureKind::Found && matches!(&*finding.matter, "gone" | "new"));
        let subject = FigureSubject::parse(&finding.subject).filter(|_| is_about);
        for (place, value) in subject.and_then(|subject| values.get(&subject)).into_iter().flatten() {
            let run = asked.runs[*place].id;
            if (finding.first_run..=finding.last_run).contains(&run) {
                marks.push((*place as f64, *value));
            }
        }
    }
    marks
}
