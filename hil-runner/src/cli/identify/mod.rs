//! `hil-runner identify`: identifies the sensor that a person warms by hand, and writes its label into the rig file.
//!
//! `begin` checks arguments, rig file and rig before the first prompt; `session` works through the labels; `book` reads
//! and writes labels in the rig file; `terminal` handles typed answers and progress; `words` holds the messages;
//! `conclude` writes the result and the exit code. [`slotwise_study::identify`] decides which sensor moves.

mod args;
mod begin;
mod book;
mod conclude;
mod session;
mod terminal;
#[cfg(test)]
mod tests;
mod words;

pub(super) use args::IdentifyArgs;
pub(super) use begin::identify;
