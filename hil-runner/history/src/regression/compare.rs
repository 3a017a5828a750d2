//! Two runs side by side.

use std::collections::BTreeMap;

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use slotwise_past::{Figure, RunDetail, RunRow, SensorRow};
use slotwise_record::StepOutcome;

/// What two runs have in common and what not.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct RunComparison {
    /// The earlier run.
    pub earlier: RunRow,
    /// The later run.
    pub later: RunRow,
    /// Steps with different outcomes, and steps that only one of them has.
    pub steps: Vec<StepPair>,
    /// How many steps are the same.
    pub same_steps: usize,
    /// Figures of either.
    pub figures: Vec<FigurePair>,
    /// Sensors of either.
    pub sensors: Vec<SensorPair>,
}

/// A step in both.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct StepPair {
    /// What the scenario calls it.
    pub label: String,
    /// What became of it.
    pub earlier: Option<StepOutcome>,
    /// What became of it later.
    pub later: Option<StepOutcome>,
}

/// A figure in both.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct FigurePair {
    /// What it is about.
    pub figure: &'static str,
    /// What it belongs to: a ROM code, or nothing for the whole.
    pub subject: String,
    /// Its value, with its unit.
    pub earlier: Option<String>,
    /// Its value later.
    pub later: Option<String>,
    /// By how much it changed, in percent, where that makes sense.
    pub change_percent: Option<f64>,
}

/// A sensor in both.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct SensorPair {
    /// Its ROM code.
    pub rom: String,
    /// Its label.
    pub label: Option<String>,
    /// Mean of its numbers, in thousandths of a degree Celsius.
    pub earlier_millicelsius: Option<f64>,
    /// The same later.
    pub later_millicelsius: Option<f64>,
    /// Readings that failed.
    pub earlier_failed: Option<u32>,
    /// The same later.
    pub later_failed: Option<u32>,
}

/// Holds two runs side by side.
#[must_use]
pub fn compare(earlier: RunDetail, later: RunDetail) -> RunComparison {
    let steps = pairs(
        earlier.steps.iter().map(|step| (step.label.clone(), step.outcome)),
        later.steps.iter().map(|step| (step.label.clone(), step.outcome)),
    );
    let (same, steps): (Vec<_>, Vec<_>) = steps.into_iter().partition(|(_, (one, two))| one == two);
    let steps = steps.into_iter().map(|(label, (earlier, later))| StepPair { label, earlier, later }).collect();
    let key = |figure: &Figure| (figure.kind, figure.subject.clone());
    let figures = pairs(
        earlier.figures.iter().map(|figure| (key(figure), figure.clone())),
        later.figures.iter().map(|figure| (key(figure), figure.clone())),
    );
    let figures = figures.into_iter().map(|((kind, subject), (one, two))| FigurePair {
        figure: kind.name(),
        subject: subject.to_string(),
        change_percent: change_percent(one.as_ref(), two.as_ref()),
        earlier: one.map(|figure| figure.text()),
        later: two.map(|figure| figure.text()),
    });
    let by_rom = |sensors: &[SensorRow]| sensors.iter().map(|row| (row.rom.clone(), row.clone())).collect::<Vec<_>>();
    let sensors = pairs(by_rom(&earlier.sensors).into_iter(), by_rom(&later.sensors).into_iter());
    let sensors = sensors.into_iter().map(|(rom, (one, two))| SensorPair {
        rom,
        label: two.as_ref().or(one.as_ref()).and_then(|row| row.label.clone()),
        earlier_millicelsius: one.as_ref().and_then(|row| row.mean_millicelsius),
        later_millicelsius: two.as_ref().and_then(|row| row.mean_millicelsius),
        earlier_failed: one.map(|row| row.failed),
        later_failed: two.map(|row| row.failed),
    });
    RunComparison {
        same_steps: same.len(),
        steps,
        figures: figures.collect(),
        sensors: sensors.collect(),
        earlier: earlier.run,
        later: later.run,
    }
}

/// Of a measured value. A count, and a distance that may be nothing, have no percentage.
fn change_percent(earlier: Option<&Figure>, later: Option<&Figure>) -> Option<f64> {
    let (earlier, later) = earlier.zip(later)?;
    let has_percentage = !earlier.kind.is_count() && earlier.kind != slotwise_past::FigureKind::FromNeighbours;
    (has_percentage && earlier.value != 0.0).then(|| 100.0 * (later.value / earlier.value - 1.0))
}

/// Something with a key, of the one and of the other.
type Pair<K, V> = (K, (Option<V>, Option<V>));

/// All that either has, in the order of their keys. Repeated items are distinguished by their number.
fn pairs<K: Ord + Clone, V>(one: impl Iterator<Item = (K, V)>, two: impl Iterator<Item = (K, V)>) -> Vec<Pair<K, V>> {
    fn numbered<K: Ord + Clone, V>(items: impl Iterator<Item = (K, V)>) -> impl Iterator<Item = ((K, usize), V)> {
        let mut times: BTreeMap<K, usize> = BTreeMap::new();
        items.map(move |(key, value)| {
            let time = times.entry(key.clone()).or_default();
            *time += 1;
            ((key, *time), value)
        })
    }
    let mut both: BTreeMap<(K, usize), (Option<V>, Option<V>)> = BTreeMap::new();
    for (key, value) in numbered(one) {
        both.insert(key, (Some(value), None));
    }
    for (key, value) in numbered(two) {
        both.entry(key).or_default().1 = Some(value);
    }
    both.into_iter().map(|((key, _), pair)| (key, pair)).collect()
}
