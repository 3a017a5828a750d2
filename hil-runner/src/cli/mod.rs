//! The command line: from arguments to exit codes.
//!
//! `args` holds the arguments, `ask` turns them into checked rigs and scenarios, and each command has a file of its
//! own. A command checks all of its arguments and files before it opens a rig.

mod args;
mod ask;
mod below;
mod console;
mod corrections;
mod exit;
mod files;
mod flash;
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
mod progress;
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
#[cfg(feature = "view")]
mod watch;
mod waveform;
mod waveform_args;

pub use exit::Exit;
pub use main::{command, main};
