//! Runs scenarios against 1-Wire temperature sensors on a rig, and judges what comes out.
//!
//! This package is the command line and what it prints; what it does is in the packages in the folders beside it, which "The house" in
//! DEVELOPERS.md draws.
//!
//! - [`cli`]: the command line. Only it and the reports it starts print.
//! - [`parts`]: what this build is without.
//!
//! This is no certified measuring instrument. Do not rely on it for food, medical, fire or process safety.

pub mod cli;
pub mod parts;
#[cfg(feature = "schema")]
pub mod schema;
