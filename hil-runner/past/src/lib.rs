//! What is kept of many runs, as data: figures, findings, rows of a history, and nights with what is reported of them.
//!
//! The history keeps it, the nights write it, and the reports show it; none of them needs another for that.

mod changes;
mod figure;
mod night;
mod night_report;
mod rows;
mod series;

pub use changes::{Assessment, Change, Finding, Matter};
pub use figure::{Figure, FigureKind, FigureSubject, value_text};
pub use night::{Job, JobState, NIGHT_VERSION, Night, NightError, NightState, time_text};
pub use night_report::{NightReport, Page, ReportedRun};
pub use rows::{
    FindingRow, FindingState, KnownSensor, PastFigure, PastStep, RunDetail, RunId, RunRow, SensorDay, SensorRow,
    SeriesPast, StepRow, VerdictRow,
};
pub use series::{Series, kind_word};
