//! Runs scenarios against 1-Wire temperature sensors on a rig, and judges what comes out.
//!
//! This package is the command line and what it prints; what it does is in the packages in the folders beside it, which "The house" in
//! DEVELOPERS.md draws.
//!
//! - [`history`], [`regression`](mod@regression), [`nightly`]: every run there was, what has changed, and runs by plan.
//! - [`study`](mod@study): what each resolution is worth on a rig, and how healthy its line is, measured and computed.
//! - [`identify`]: which sensor is which, by who moves when one is warmed by hand.
//! - [`report`]: terminal, JUnit XML, HTML; made from events, records and the data of studies, nights and captures alone.
//! - [`cli`]: the command line. Only it and the reports it starts print.
//!
//! This is no certified measuring instrument. Do not rely on it for food, medical, fire or process safety.

pub mod cli;
#[cfg(feature = "history")]
pub mod history;
pub mod identify;
#[cfg(feature = "history")]
pub mod nightly;
pub mod parts;
#[cfg(feature = "history")]
pub mod past;
#[cfg(feature = "history")]
pub mod regression;
pub mod report;
#[cfg(feature = "schema")]
pub mod schema;
pub mod study;
