//! Runs scenarios against 1-Wire temperature sensors on a rig, and judges what comes out.
//!
//! ```text
//! cli ── input ── scenario, rig        what is asked for, read from files and checked
//!  │                   │
//!  │                  run ── bench     does it, step by step, on a rig
//!  │                   │  └── judge    compares what came with what the datasheets print
//!  │                 events
//!  │                   │
//!  └── report ────── record            all that happened, as data; every report is made from it
//! ```
//!
//! - [`terms`]: units, notation and the other words that everything speaks. [`limits`], [`registers`]: what the datasheets say.
//! - [`rig`], [`scenario`]: the checked models of the two files, and what is built in. [`input`] says what is wrong
//!   with a file.
//! - [`bench`](mod@bench): what a scenario can ask of a rig, and the rig in virtual time that answers.
//! - [`reply`]: what comes back from a rig: samples, failures, and what bridge and line report.
//! - [`fixed_point`]: temperatures that nature gives, and when a bath counts as stable.
//! - [`identify`]: which sensor is which, by who moves when one is warmed by hand.
//! - [`judge`]: verdicts. Expected numbers come from the published tables or a reference, never from the driver under test.
//! - [`run`]: the executor, which turns a scenario into [events](run::Event).
//! - [`record`]: the data of a run and its JSON Schema.
//! - [`history`], [`regression`](mod@regression), [`nightly`]: every run there was, what has changed, and runs by plan.
//! - [`report`]: terminal, JUnit XML, HTML; made from events, records and the data of studies, nights and captures alone.
//! - [`study`](mod@study): what each resolution is worth on a rig, and how healthy its line is, measured and computed.
//! - [`waveform`]: captures of a line, decoded and judged.
//! - [`cli`]: the command line. Only it and the reports it starts print.
//!
//! This is no certified measuring instrument. Do not rely on it for food, medical, fire or process safety.

pub mod bench;
pub mod cli;
mod fresh;
#[cfg(feature = "history")]
pub mod history;
pub mod identify;
pub mod judge;
#[cfg(feature = "history")]
pub mod nightly;
pub mod parts;
pub mod record;
#[cfg(feature = "history")]
pub mod regression;
pub mod report;
pub mod run;
#[cfg(feature = "schema")]
pub mod schema;
pub mod study;
