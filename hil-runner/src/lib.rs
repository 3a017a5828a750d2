//! Runs scenarios against 1-Wire temperature sensors on a rig, and judges the results.
//!
//! This package holds the command line and its output; the work is done by the packages in the folders beside it, drawn
//! in "The house" of DEVELOPERS.md.
//!
//! - [`cli`]: the command line. Only it and the reports it starts print.
//! - [`parts`]: optional parts, and which of them this build contains.
//!
//! This is no certified measuring instrument. Do not rely on it for food, medical, fire or process safety.

pub mod cli;
pub mod parts;
#[cfg(feature = "schema")]
pub mod schema;
