//! The tests that cross the packages as one program, so that it is linked once.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod call_costs_on_the_line;
mod captured_line;
mod corners;
mod desk;
mod faults_have_names;
mod published_tables;
mod replay;
mod scratchpad_model;
mod search_on_the_line;
mod serial_adapters;
mod serial_on_the_line;
mod settings_on_the_line;
