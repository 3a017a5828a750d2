//! `hil-runner waveform`.

use std::io::{self, IsTerminal, Read, Write};
use std::path::Path;

use super::ask::Refused;
use super::console::{Console, message};
use super::exit::Exit;
use super::files::Files;
use super::names::not_writable;
use super::progress::Waiting;
use super::signals::stop_on_interrupt;
use super::waveform_args::WaveformArgs;
use slotwise_report::{Grid, caution_line, nothing, played_line, table, transaction_line, waveform_lines};
#[cfg(feature = "pages")]
use slotwise_report::{drawn_moments, waveform_html};
use slotwise_terms::Stop;
#[cfg(feature = "pages")]
use slotwise_terms::files::write_atomically;
use slotwise_terms::input::visible::spelled_out;
use slotwise_terms::parts::Part;
use slotwise_terms::units::rig_time;
use slotwise_waveform::capture::Capture;
use slotwise_waveform::decode::Transaction;
#[cfg(feature = "pages")]
use slotwise_waveform::excerpts;
use slotwise_waveform::replay::{Played, Player};
use slotwise_waveform::{
    ChooseError, Chosen, Facts, Outcome, SourceError, WaveformLine, WaveformReport, WaveformSource, analyse_while,
};

pub(super) fn waveform(console: &mut Console, args: &WaveformArgs) -> Exit {
    if let Some(error) = args.html.as_ref().and_then(|_| crate::parts::check(Part::Pages).err()) {
        console.error(error);
        return Exit::BadInput;
    }
    if let Some(problem) = args.html.as_deref().and_then(|path| not_writable("--html", path)) {
        console.error(problem);
        return Exit::BadInput;
    }
    let mut files = Files::default();
    files.reads("capture", &args.file);
    if let Some(path) = &args.html {
        files.writes("--html", path);
    }
    if let Err(exit) = files.check(console) {
        return exit;
    }
    let stop = match stop_on_interrupt(console) {
        Ok(stop) => stop,
        Err(Refused(exit)) => return exit,
    };
    let ended = stop.clone();
    let source = match WaveformSource::open(&args.file, move || ended.is_raised()) {
        Ok(source) => source,
        Err(error) => return refuse(console, &args.file, &error),
    };
    let chosen = match source.choose(args.signal.as_deref()) {
        Ok(chosen) => Chosen { step_ns: args.step.unwrap_or(chosen.step_ns), ..chosen },
        Err(error) => return which(console, &args.file, &source, &error),
    };
    let capture = match source.capture(&chosen) {
        Ok(capture) => capture,
        Err(error) => return refuse(console, &args.file, &error.into()),
    };
    let (report, written) = match report(console, args, (capture, chosen), &stop) {
        Ok(done) => done,
        Err(exit) => return exit,
    };
    let drawn = args.html.as_deref().map_or(Exit::AllMet, |path| html(console, args, chosen, &report, path));
    let written = written.and_then(|()| match (args.json, args.transactions) {
        (true, true) => json_line(console.out(), &WaveformLine::Report(&report)),
        (true, false) => json(console, &report),
        (false, _) => text(console, &args.file, &report),
    });
    let written = match written {
        Ok(()) => Exit::AllMet,
        Err(error) => console.output_error(&error),
    };
    exit(&report, args).max(written).max(drawn)
}

/// Reads the capture to its end and writes transactions as they are decoded. Returns the report, and whether the lines
/// could be written.
fn report(
    console: &mut Console,
    args: &WaveformArgs,
    (capture, chosen): (Capture<impl Read>, Chosen),
    stop: &Stop,
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
    let waiting = Waiting::on(&console.error_look(), "reading the capture");
    let is_shown = io::stdout().is_terminal();
    let mut written = Ok(());
    let mut write_line = |line: OutputLine<'_>| {
        if written.is_ok() {
            let mut write = || line.write(console.out(), args.json);
            // Lines and progress share a terminal.
            written = if is_shown { waiting.aside(write) } else { write() };
        }
    };
    let mut each = |transaction: &Transaction| {
        if args.transactions {
            write_line(OutputLine::Transaction(transaction));
        }
        for played in player.as_mut().map(|player| player.take(transaction)).into_iter().flatten() {
            write_line(OutputLine::Played(&played));
        }
    };
    let mut goes_on = |now_ns: u64| {
        waiting.say(format!("reading the capture, {} so far", rig_time(now_ns)));
        !stop.is_raised()
    };
    let mut report = analyse_while(capture, chosen, Facts::default(), &mut each, &mut goes_on);
    if let Some(player) = player {
        let (last, replay) = player.finish();
        if let Some(played) = last {
            write_line(OutputLine::Played(&played));
        }
        report.replay = Some(replay);
    }
    Ok((report, written))
}

/// A line written while the capture is read.
enum OutputLine<'a> {
    Transaction(&'a Transaction),
    Played(&'a Played),
}

impl OutputLine<'_> {
    fn write(&self, out: &mut dyn Write, is_json: bool) -> io::Result<()> {
        match (self, is_json) {
            (Self::Transaction(transaction), true) => json_line(out, &WaveformLine::Transaction(transaction)),
            (Self::Transaction(transaction), false) => writeln!(out, "{}", transaction_line(transaction)),
            // The JSON report lists the differences.
            (Self::Played(_), true) => Ok(()),
            (Self::Played(played), false) => writeln!(out, "{}", played_line(played)),
        }
    }
}

fn exit(report: &WaveformReport, args: &WaveformArgs) -> Exit {
    if report.replay.as_ref().is_some_and(|replay| replay.different > 0) {
        return Exit::NotAllMet;
    }
    match report.outcome {
        Outcome::Sound => Exit::AllMet,
        Outcome::SoundWithDoubts if !args.doubts_fail => Exit::AllMet,
        Outcome::SoundWithDoubts | Outcome::Faulty | Outcome::Incomplete | Outcome::NothingSeen => Exit::NotAllMet,
    }
}

fn text(console: &mut Console, file: &Path, report: &WaveformReport) -> io::Result<()> {
    let look = console.look;
    writeln!(console.out(), "{}", caution_line(&look))?;
    for line in waveform_lines(&look, &file_name(file), report) {
        writeln!(console.out(), "{line}")?;
    }
    Ok(())
}

fn json(console: &mut Console, report: &WaveformReport) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *console.out(), report)?;
    writeln!(console.out())
}

fn json_line(out: &mut dyn Write, line: &WaveformLine<'_>) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    writeln!(out)
}

#[cfg(not(feature = "pages"))]
fn html(_: &Console, _: &WaveformArgs, _: Chosen, _: &WaveformReport, _: &Path) -> Exit {
    // Unreachable: `--html` is refused at the start in this build.
    Exit::BadInput
}

/// Reads the capture a second time for the waveform around each finding, and writes the page.
#[cfg(feature = "pages")]
fn html(console: &Console, args: &WaveformArgs, chosen: Chosen, report: &WaveformReport, path: &Path) -> Exit {
    let again =
        args.file.is_file().then(|| WaveformSource::open(&args.file, || false).ok()?.capture(&chosen).ok()).flatten();
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
            message(&format!("report written to {}", shown(path)));
            Exit::AllMet
        }
        Err(error) => {
            console.error(error);
            Exit::BadInput
        }
    }
}

fn file_name(file: &Path) -> String {
    spelled_out(&file.file_name().unwrap_or(file.as_os_str()).to_string_lossy())
}

/// A path for display, with control characters spelled out so that a file name cannot control the terminal.
fn shown(path: &Path) -> String {
    spelled_out(&path.to_string_lossy())
}

fn refuse(console: &Console, file: &Path, error: &SourceError) -> Exit {
    console.error(format_args!("{}: {error}", shown(file)));
    Exit::BadInput
}

/// Reports that the signal of the line is ambiguous, with a table of signals to choose from.
fn which(console: &Console, file: &Path, source: &WaveformSource, error: &ChooseError) -> Exit {
    console.error(format_args!("{}: {error}; choose one with --signal:", shown(file)));
    let number = |number: u64| if number == 0 { nothing() } else { number.to_string() };
    let rows = source
        .signals()
        .map(|(name, counts)| {
            vec![
                name.to_owned(),
                number(counts.falls),
                number(counts.resets),
                number(counts.presences),
                number(counts.slots),
            ]
        })
        .collect();
    let grid = Grid {
        heading: vec!["signal", "falling edges", "resets", "presence pulses", "slots"],
        right: &["falling edges", "resets", "presence pulses", "slots"],
        rows,
    };
    for line in table(&console.error_look(), grid) {
        message(&line);
    }
    Exit::BadInput
}
