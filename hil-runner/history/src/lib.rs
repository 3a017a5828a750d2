//! The history of many runs: one SQLite file, from which a rig's own past can be asked.
//!
//! A run goes in from its [record](slotwise_record) and from nothing else, so that a history that is lost can be made
//! anew from the records. It is there as a whole or not at all, and never twice. Several programs may write to one
//! history, one after the other; each waits for the others.
//!
//! What is watched from night to night are [figures](slotwise_past::FigureKind); they are taken from a run by
//! [`figures`].

mod add;
mod error;
mod export;
mod extract;
mod findings;
pub mod nightly;
mod query;
pub mod regression;
mod store;

#[cfg(test)]
mod tests;

pub use add::{Added, RunPlace};
pub use error::{HistoryError, HistoryTrouble};
pub use export::{Cell, Export, ExportError};
pub use extract::figures;
pub use query::Which;
pub use store::{History, IfMissing, Writing};
