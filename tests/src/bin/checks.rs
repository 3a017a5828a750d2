//! `cargo checks`: every check of the project in one command.

use clap::Parser;
use slotwise_tests::check::{Check, Context, Row, When, run_all};
use slotwise_tests::checks::{ALL, api, firmware};
use slotwise_tests::cross::Cross;
use slotwise_tests::firmware::{compile, is_called_as_compiler};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Runs every check of the project and reports all that fails.
///
/// What is needed beyond a Rust toolchain with cargo is fetched; what cannot be had is named, and fails.
#[derive(Debug, Parser)]
#[command(name = "cargo checks", bin_name = "cargo checks")]
struct Options {
    /// Also build everything with the oldest Rust that is promised, which rustup fetches.
    #[arg(long)]
    minimum_rust: bool,

    /// Also run all tests once more, property tests with sixteen times as many cases.
    #[arg(long)]
    long: bool,

    /// Also measure the wait for the first verdict and for the whole tool, with nothing fetched or built before.
    #[arg(long)]
    first_verdict: bool,

    /// Run this check alone; may be given several times.
    #[arg(long, value_name = "CHECK")]
    only: Vec<String>,

    /// How to come by a compiler for bare metal.
    #[arg(long, value_enum, value_name = "WAY", default_value = "auto")]
    cross: Cross,

    /// Run no check: build the bridge's firmware for every chip and pack the images.
    #[arg(long)]
    pack_firmware: bool,

    /// Run no check: store the driver's public API, which the check "api" compares with.
    #[arg(long)]
    store_api: bool,

    /// Say what the checks are, and run none.
    #[arg(long)]
    list: bool,
}

/// Exit code for a wrong option, as everywhere in the project.
const USAGE: u8 = 2;

fn main() -> ExitCode {
    if is_called_as_compiler() {
        return compile().unwrap_or_else(|error| {
            eprintln!("the compiler cannot be started: {error}");
            ExitCode::FAILURE
        });
    }
    let options = Options::parse();
    if options.list {
        for check in &ALL {
            let option =
                if let When::With(option) = check.when { format!(" (only with {option})") } else { String::new() };
            println!("{:<13} {}{option}", check.name, check.what);
        }
        return ExitCode::SUCCESS;
    }
    let (chosen, not_run) = match choose(&options) {
        Ok(choice) => choice,
        Err(unknown) => {
            eprintln!("no check is called {unknown}; `cargo checks --list` says what they are called");
            return ExitCode::from(USAGE);
        }
    };
    match run(&options, &chosen, &not_run) {
        Ok(0) => ExitCode::SUCCESS,
        Ok(_) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

/// What `--pack-firmware` does, as a check of its own.
const PACK: Check = Check {
    name: "pack",
    what: "the bridge's images are packed",
    when: When::Always,
    row: Row::Main,
    run: firmware::pack_all,
};

/// What `--store-api` does, as a check of its own.
const STORE: Check = Check {
    name: "store-api",
    what: "the driver's public API is stored",
    when: When::Always,
    row: Row::Main,
    run: api::store,
};

/// The checks to run, and for each of the others why it does not run.
fn choose(options: &Options) -> Result<(Vec<&'static Check>, Vec<String>), String> {
    if let Some(unknown) = options.only.iter().find(|name| ALL.iter().all(|check| check.name != **name)) {
        return Err(unknown.clone());
    }
    if options.pack_firmware {
        return Ok((vec![&PACK], Vec::new()));
    }
    if options.store_api {
        return Ok((vec![&STORE], Vec::new()));
    }
    let mut chosen = Vec::new();
    let mut not_run = Vec::new();
    for check in &ALL {
        let is_named = options.only.iter().any(|name| name == check.name);
        match check.when {
            _ if is_named => chosen.push(check),
            _ if !options.only.is_empty() => not_run.push(format!("{} (not named by --only)", check.name)),
            When::With("--minimum-rust") if options.minimum_rust => chosen.push(check),
            When::With("--long") if options.long => chosen.push(check),
            When::With("--first-verdict") if options.first_verdict => chosen.push(check),
            When::With(option) => not_run.push(format!("{}, {} (runs with {option})", check.name, check.what)),
            When::Always => chosen.push(check),
        }
    }
    Ok((chosen, not_run))
}

fn run(options: &Options, chosen: &[&Check], not_run: &[String]) -> Result<usize, Box<dyn std::error::Error>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().ok_or("the package has no folder above it")?;
    let metadata = cargo_metadata::MetadataCommand::new().current_dir(root).exec()?;
    let target: PathBuf = metadata.target_directory.clone().into();
    // The check "tests" builds this program anew where it was started from.
    let itself = target.join("checks-as-compiler");
    fs::copy(std::env::current_exe()?, &itself)?;
    let context = Context { root: root.into(), target, metadata, cross: options.cross, itself };
    let tally = run_all(chosen, not_run, |check| (check.run)(&context), &mut io::stdout())?;
    Ok(tally.failed)
}
