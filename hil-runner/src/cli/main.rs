//! Definitions of the command line, and the dispatch to the commands.

use clap::{CommandFactory, Parser};

use super::args::{Cli, Command};
use super::console::Console;
use super::exit::Exit;
use super::{flash, help, identify, new, read, run, scan, signals, study, waveform};
#[cfg(feature = "history")]
use super::{history, nightly};
#[cfg(not(feature = "history"))]
use slotwise_terms::parts::{NotBuiltIn, Part};

/// The definitions of the command line, from which man pages and completions are made.
#[must_use]
pub fn command() -> clap::Command {
    Cli::command()
}

/// Runs the command. An invalid command line ends the program here, with exit code 2.
#[must_use]
pub fn main() -> Exit {
    let cli = Cli::parse();
    let mut console = Console::new(cli.color);
    if let Err(error) = signals::catch_limits() {
        console.error(error);
        return Exit::BadInput;
    }
    match &cli.command {
        Command::Run(args) => run::run(&mut console, args),
        Command::Scan(args) => scan::scan(&mut console, args),
        Command::Flash(args) => flash::flash(&mut console, args),
        Command::Read(args) => read::read(&mut console, args),
        #[cfg(feature = "history")]
        Command::Nightly(args) => nightly::nightly(&mut console, args),
        #[cfg(feature = "history")]
        Command::History(args) => history::history(&mut console, args),
        #[cfg(not(feature = "history"))]
        Command::Nightly(_) | Command::History(_) => {
            console.error(NotBuiltIn(Part::History));
            Exit::BadInput
        }
        Command::Identify(args) => identify::identify(&mut console, args),
        Command::Study(args) => study::study(&mut console, args),
        Command::Waveform(args) => waveform::waveform(&mut console, args),
        Command::New(args) => new::new(&mut console, args),
        Command::Help(args) => help::help(&mut console, args),
    }
}
