//! The history of many runs: one SQLite file, from which a rig's own past can be asked.
//!
//! A run goes in from its [record](slotwise_record) and from nothing else, so that a history that is lost can be made anew from the
//! records. It is there as a whole or not at all, and never twice. Several programs may write to one history, one after
//! the other; each waits for the others.
//!
//! What is watched from night to night are [figures](FigureKind); they are taken from a run by [`figures`].

mod add;
mod error;
mod export;
mod extract;
mod figure;
mod findings;
mod query;
mod rows;
mod series;
mod store;
mod words;
mod writing;

#[cfg(test)]
mod tests;

pub use add::{Added, Place, RunId};
pub use error::{HistoryError, HistoryTrouble};
pub use export::{Cell, Export, ExportError};
pub use extract::figures;
pub use figure::{Figure, FigureKind, FigureSubject, value_text};
pub use findings::{FindingRow, FindingState};
pub use query::Which;
pub use rows::{KnownSensor, PastFigure, PastStep, RunDetail, RunRow, SensorDay, SensorRow, StepRow, VerdictRow};
pub use series::{Series, kind_word};
pub use store::{History, IfMissing};
pub use writing::Writing;
