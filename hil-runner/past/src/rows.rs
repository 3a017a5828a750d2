//! Rows of a history: runs, their steps, verdicts, sensors and figures, and findings.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::figure::Figure;
use super::series::Series;
use slotwise_record::{RunOutcome, StepOutcome};

/// Number of a run in its history.
pub type RunId = i64;

/// A run in a list.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct RunRow {
    /// Its number.
    pub id: RunId,
    /// When it began: UTC, RFC 3339.
    pub started_at: String,
    /// The night it belongs to.
    pub night: Option<String>,
    /// Rig and scenario.
    #[serde(flatten)]
    pub series: Series,
    /// Seed of all randomness.
    pub seed: String,
    /// Name and version of the program that wrote it.
    pub tool: String,
    /// Name and version of the driver under test.
    pub driver: String,
    /// Version of the firmware; empty where there is none.
    pub firmware: String,
    /// The chip; empty where there is none.
    pub chip: String,
    /// How it ended.
    pub outcome: RunOutcome,
    /// What is broken about the rig, if anything.
    pub breakage: Option<String>,
    /// Time of the rig at the end, in nanoseconds.
    pub ended_ns: i64,
    /// Expectations met.
    pub met: u32,
    /// Expectations not met.
    pub not_met: u32,
    /// Expectations that the rig could not show.
    pub cannot_tell: u32,
    /// The folder with its results.
    pub folder: Option<String>,
}

/// A run with all that is kept of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct RunDetail {
    /// The run.
    #[serde(flatten)]
    pub run: RunRow,
    /// Its steps in order.
    pub steps: Vec<StepRow>,
    /// Verdicts that are not met or could not be reached.
    pub verdicts: Vec<VerdictRow>,
    /// Its sensors.
    pub sensors: Vec<SensorRow>,
    /// Its figures.
    #[serde(serialize_with = "figures_as_rows")]
    #[cfg_attr(feature = "schema", schemars(with = "Vec<FigureRow>"))]
    pub figures: Vec<Figure>,
}

/// A step of a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct StepRow {
    /// Its number in the scenario, from 1.
    pub number: u32,
    /// What the scenario calls it.
    pub label: String,
    /// What became of it.
    pub outcome: StepOutcome,
    /// Why it was not done, or not to its end.
    pub reason: Option<String>,
    /// Its time, in nanoseconds of the rig.
    pub took_ns: i64,
    /// Expectations met.
    pub met: u32,
    /// Expectations not met.
    pub not_met: u32,
    /// Expectations that the rig could not show.
    pub cannot_tell: u32,
}

/// A verdict that is not met.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct VerdictRow {
    /// Place of its step.
    pub place: String,
    /// ROM code of the sensor it is about.
    pub rom: Option<String>,
    /// `not-met` or `cannot-tell`.
    pub ruling: String,
    /// What was looked at.
    pub check: String,
    /// What was expected.
    pub expected: String,
    /// Who says so.
    pub source: String,
    /// What came.
    pub got: String,
}

/// A sensor in one run, or over a day.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct SensorRow {
    /// Its ROM code.
    pub rom: String,
    /// Its label, if it is in the rig's inventory.
    pub label: Option<String>,
    /// Readings tried.
    pub readings: u32,
    /// Readings that failed.
    pub failed: u32,
    /// Readings with a doubt.
    pub doubted: u32,
    /// Mean of all numbers without a doubt, in thousandths of a degree Celsius.
    pub mean_millicelsius: Option<f64>,
    /// The lowest, in sixteenths of a degree Celsius.
    pub least_sixteenths: Option<i16>,
    /// The highest.
    pub most_sixteenths: Option<i16>,
}

/// A sensor through one day.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct SensorDay {
    /// The day: that of the night it belongs to, or the date in UTC.
    pub day: String,
    /// Runs in which it was.
    pub runs: u32,
    /// Its readings.
    #[serde(flatten)]
    pub sensor: SensorRow,
    /// Mean distance from its neighbours, in thousandths of a degree Celsius.
    pub from_neighbours_millicelsius: Option<f64>,
    /// Mean conversion time at the highest resolution of the day, in microseconds.
    pub conversion_us: Option<f64>,
}

/// A sensor that the history knows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KnownSensor {
    /// Its ROM code.
    pub rom: String,
    /// Its latest label.
    pub label: Option<String>,
}

/// A figure through the runs of a series.
#[derive(Clone, Debug, PartialEq)]
pub struct PastFigure {
    /// The run.
    pub run: RunId,
    /// The figure.
    pub figure: Figure,
}

/// The last runs of a series with their figures, and all findings of it.
#[derive(Clone, Debug, PartialEq)]
pub struct SeriesPast {
    /// From the oldest on.
    pub runs: Vec<RunRow>,
    /// Theirs.
    pub figures: Vec<PastFigure>,
    /// All that were found in the series.
    pub findings: Vec<FindingRow>,
}

/// The outcome of a step through the runs of a series.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PastStep {
    /// The run.
    pub run: RunId,
    /// What the scenario calls it.
    pub label: String,
    /// What became of it.
    pub outcome: StepOutcome,
}

/// The state of a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum FindingState {
    /// The last run still showed it.
    Open,
    /// It was gone again in a later run.
    Over,
    /// It was accepted as intended: runs from its first one on are the new normal.
    Accepted,
}

/// A finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct FindingRow {
    /// Its number.
    pub id: i64,
    /// Rig and scenario.
    #[serde(flatten)]
    pub series: Series,
    /// What has changed, as a key.
    pub matter: String,
    /// What it is about, as a key: a ROM code, a step.
    pub subject: String,
    /// The run in which it showed first.
    pub first_run: RunId,
    /// The last run that showed it.
    pub last_run: RunId,
    /// The night, or else the date, of the first run.
    pub since: String,
    /// Its state.
    pub state: FindingState,
    /// What was found, in words.
    pub text: String,
}

/// A figure as it is written.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
struct FigureRow<'f> {
    /// What it is about.
    kind: &'static str,
    /// What it belongs to: a ROM code, one with `@12` for 12 bits, or nothing for the whole.
    subject: String,
    /// Its value, in the unit.
    value: f64,
    /// Of how many values it is the mean, or the share.
    of: u64,
    /// Its unit, where it has one.
    #[serde(skip_serializing_if = "str::is_empty")]
    unit: &'f str,
}

fn figures_as_rows<S: serde::Serializer>(figures: &[Figure], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(figures.iter().map(|figure| {
        let (unit, scale) = figure.kind.unit();
        FigureRow {
            kind: figure.kind.name(),
            subject: figure.subject.to_string(),
            value: figure.value / scale,
            of: figure.of,
            unit,
        }
    }))
}
