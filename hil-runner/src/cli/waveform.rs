//! `hil-runner waveform`.

use std::io::{self, Read};
use std::path::Path;

use super::console::{Console, tell};
use super::exit::Exit;
use super::names::not_writable;
use super::waveform_args::WaveformArgs;
use crate::record::write_atomically;
use crate::report::{
    Grid, drawn_moments, nothing, played_line, table, transaction_line, waveform_html, waveform_lines,
};
use crate::waveform::capture::Capture;
use crate::waveform::replay::Player;
use crate::waveform::{ChooseError, Chosen, Outcome, SourceError, WaveformReport, WaveformSource, analyse, excerpts};

pub(super) fn waveform(console: &mut Console, args: &WaveformArgs) -> Exit {
    if let Some(problem) = args.html.as_deref().and_then(|path| not_writable("--html", path)) {
        console.error(problem);
        return Exit::BadInput;
    }
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
    let (report, told) = match report(console, args, capture, chosen) {
        Ok(done) => done,
        Err(exit) => return exit,
    };
    let drawn = args.html.as_deref().map_or(Exit::AllMet, |path| html(console, args, chosen, &report, path));
    let told = told.and_then(|()| if args.json { json(console, &report) } else { text(console, &args.file, &report) });
    let told = match told {
        Ok(()) => Exit::AllMet,
        Err(error) => console.output_error(&error),
    };
    exit(&report).max(told).max(drawn)
}

/// Reads the capture to its end. What is told on the way goes out as it comes, and how that went comes back.
fn report(
    console: &mut Console,
    args: &WaveformArgs,
    capture: Capture<impl Read>,
    chosen: Chosen,
) -> Result<(WaveformReport, io::Result<()>), Exit> {
    let mut player = if args.replay {
        match Player::new() {
            Ok(player) => Some(player),
            Err(error) => {
                console.error(error);
                return Err(Exit::BadInput);
            }
        }
    } else {
        None
    };
    let mut told = Ok(());
    let tells = !args.json;
    let mut say = |line: &str| {
        if tells && told.is_ok() {
            told = writeln!(console.out(), "{line}");
        }
    };
    let mut report = analyse(capture, chosen, &mut |transaction| {
        if args.transactions {
            say(&transaction_line(transaction));
        }
        if let Some(played) = player.as_mut().and_then(|player| player.take(transaction)) {
            say(&played_line(&played));
        }
    });
    if let Some(player) = player {
        let (last, replay) = player.finish();
        if let Some(played) = last {
            say(&played_line(&played));
        }
        report.replay = Some(replay);
    }
    Ok((report, told))
}

fn exit(report: &WaveformReport) -> Exit {
    if report.replay.as_ref().is_some_and(|replay| replay.different > 0) {
        return Exit::NotAllMet;
    }
    match report.outcome {
        Outcome::Sound => Exit::AllMet,
        Outcome::Faulty | Outcome::Incomplete | Outcome::NothingSeen => Exit::NotAllMet,
    }
}

fn text(console: &mut Console, file: &Path, report: &WaveformReport) -> io::Result<()> {
    let look = console.look;
    for line in waveform_lines(&look, &file_name(file), report) {
        writeln!(console.out(), "{line}")?;
    }
    Ok(())
}

fn json(console: &mut Console, report: &WaveformReport) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *console.out(), report)?;
    writeln!(console.out())
}

/// Reads the capture a second time, for the line around what was found, and writes the page.
fn html(console: &Console, args: &WaveformArgs, chosen: Chosen, report: &WaveformReport, path: &Path) -> Exit {
    let again = args.file.is_file().then(|| WaveformSource::open(&args.file).ok()?.capture().ok()).flatten();
    let drawn = again.map(|capture| excerpts(capture, chosen.signal, &drawn_moments(report)));
    let page = match waveform_html(&file_name(&args.file), report, drawn.as_deref()) {
        Ok(page) => page,
        Err(error) => {
            console.error(error);
            return Exit::BadInput;
        }
    };
    match write_atomically(path, |out| out.write_all(page.as_bytes())) {
        Ok(()) => {
            tell(&format!("report written to {}", path.display()));
            Exit::AllMet
        }
        Err(error) => {
            console.error(error);
            Exit::BadInput
        }
    }
}

fn file_name(file: &Path) -> String {
    file.file_name().unwrap_or(file.as_os_str()).to_string_lossy().into_owned()
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
        tell(&line);
    }
    Exit::BadInput
}
