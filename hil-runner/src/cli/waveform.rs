//! `hil-runner waveform`.

use std::io;
use std::path::Path;

use super::console::Console;
use super::exit::Exit;
use super::waveform_args::WaveformArgs;
use crate::report::{Grid, nothing, table, transaction_line, waveform_lines};
use crate::waveform::decode::Transaction;
use crate::waveform::{ChooseError, Chosen, Outcome, SourceError, WaveformReport, WaveformSource, analyse};

pub(super) fn waveform(console: &mut Console, args: &WaveformArgs) -> Exit {
    let source = match WaveformSource::open(&args.file) {
        Ok(source) => source,
        Err(error) => return refuse(console, &args.file, &error),
    };
    let chosen = match source.choose(args.signal.as_deref()) {
        Ok(chosen) => Chosen { step_ns: args.step.unwrap_or(chosen.step_ns), ..chosen },
        Err(error) => return which(console, &args.file, &source, &error),
    };
    let capture = match source.capture() {
        Ok(capture) => capture,
        Err(error) => return refuse(console, &args.file, &error.into()),
    };
    let mut wrote = Ok(());
    let report = {
        let mut each = |transaction: &Transaction| {
            if args.transactions && !args.json && wrote.is_ok() {
                wrote = writeln!(console.out(), "{}", transaction_line(transaction));
            }
        };
        analyse(capture, chosen.signal, chosen.step_ns, &mut each)
    };
    let told = wrote.and_then(|()| if args.json { json(console, &report) } else { text(console, &args.file, &report) });
    let told = match told {
        Ok(()) => Exit::AllMet,
        Err(error) => console.output_error(&error),
    };
    exit(report.outcome).max(told)
}

const fn exit(outcome: Outcome) -> Exit {
    match outcome {
        Outcome::Sound => Exit::AllMet,
        Outcome::Faulty | Outcome::Incomplete | Outcome::NothingSeen => Exit::NotAllMet,
    }
}

fn text(console: &mut Console, file: &Path, report: &WaveformReport) -> io::Result<()> {
    let look = console.look;
    let name = file.file_name().unwrap_or(file.as_os_str()).to_string_lossy();
    for line in waveform_lines(&look, &name, report) {
        writeln!(console.out(), "{line}")?;
    }
    Ok(())
}

fn json(console: &mut Console, report: &WaveformReport) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *console.out(), report)?;
    writeln!(console.out())
}

fn refuse(console: &Console, file: &Path, error: &SourceError) -> Exit {
    console.error(format_args!("{}: {error}", file.display()));
    Exit::BadInput
}

/// It is not clear which signal is the line: what there is, to choose from.
fn which(console: &Console, file: &Path, source: &WaveformSource, error: &ChooseError) -> Exit {
    console.error(format_args!("{}: {error}; choose one with --signal:", file.display()));
    let number = |number: u64| if number == 0 { nothing() } else { number.to_string() };
    let rows = source
        .signals()
        .map(|(name, looks)| {
            vec![
                name.to_owned(),
                number(looks.falls),
                number(looks.resets),
                number(looks.presences),
                number(looks.slots),
            ]
        })
        .collect();
    let grid = Grid {
        heading: vec!["signal", "falling edges", "resets", "presence pulses", "slots"],
        right: &["falling edges", "resets", "presence pulses", "slots"],
        rows,
    };
    for line in table(&console.error_look(), grid) {
        super::console::tell(&line);
    }
    Exit::BadInput
}
