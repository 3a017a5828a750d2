//! The command line: what is asked for, and what the shell is told at the end.
//!
//! `args` holds what was typed, `ask` turns it into rigs and scenarios that have been checked, and each command has a
//! file of its own. Nothing runs before everything that was typed has been found good.

mod args;
mod ask;
mod below;
mod console;
mod corrections;
mod exit;
mod files;
mod flash;
mod flashing;
mod help;
#[cfg(feature = "history")]
mod history;
#[cfg(feature = "history")]
mod history_args;
#[cfg(feature = "history")]
mod history_tables;
mod identify;
mod keep;
mod line_args;
mod main;
mod names;
mod new;
#[cfg(feature = "history")]
mod nightly;
mod operator;
mod out;
mod pages;
mod paper;
mod places;
mod read;
mod run;
mod scan;
mod seed;
mod sighting;
mod signals;
mod study;
mod study_args;
mod study_line;
mod templates;
mod waiting;
#[cfg(feature = "view")]
mod watch;
mod waveform;
mod waveform_args;

pub use exit::Exit;
pub use main::{command, main};
