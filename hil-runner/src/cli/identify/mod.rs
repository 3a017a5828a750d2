//! `hil-runner identify`: names the sensor that somebody warms by hand, and writes its label into the rig file.
//!
//! `begin` sees that all is as it must be, `session` goes from label to label, `book` is the rig file, `person` whoever answers, and
//! `words` what is said. Who moves is decided in [`slotwise_study::identify`].

mod args;
mod begin;
mod book;
mod conclude;
mod live;
mod person;
mod session;
#[cfg(test)]
mod tests;
mod words;

pub(super) use args::IdentifyArgs;
pub(super) use begin::identify;
