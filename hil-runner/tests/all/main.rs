//! The tests of the tool as one program, so that it is linked once.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

#[cfg(unix)]
mod adapter;
mod captures;
mod changes;
mod commands;
mod common;
mod datasheet_limits;
mod emulated;
mod emulated_host;
mod emulated_rig;
#[cfg(unix)]
mod ended_nights;
mod fixed_points;
mod freshness;
mod generated;
mod history;
mod identify;
#[cfg(unix)]
mod limits;
mod looking;
mod month;
mod nightly;
mod pulses;
mod results;
mod runs;
#[cfg(unix)]
mod serial;
mod study;
mod study_line;
mod tables;
#[cfg(unix)]
mod watching;
mod waveform;
