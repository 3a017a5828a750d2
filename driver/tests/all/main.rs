//! The tests of the driver as one program, so that it is linked once.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

#[cfg(feature = "serde")]
mod as_data;
mod call_costs;
mod common;
mod crc;
mod errors;
mod missed_commands;
mod pin_line;
mod probe;
mod rom_codes;
mod scope;
mod scratchpads;
mod search;
mod serial_batches;
mod serial_line;
mod survey;
mod waiting;
