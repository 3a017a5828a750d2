//! `hil-runner history`.

use std::io::{self, Write};
use std::path::Path;

use chrono::{DateTime, FixedOffset};

use super::console::{Console, message};
use super::exit::Exit;
use super::files::Files;
use super::history_args::{AddArgs, ExportArgs, Form, HistoryArgs, Question, What, WhichArgs};
use super::history_tables as tables;
use super::places::history_asked;
use slotwise_history::regression::{add_run, compare};
use slotwise_history::{Added, Cell, Export, ExportError, History, HistoryError, IfMissing, RunPlace, Which};
use slotwise_past::{FindingState, KnownSensor};
use slotwise_record::read_record;
use slotwise_report::caution_line;
use slotwise_terms::units::count;

/// What ends a query early.
enum Early {
    History(HistoryError),
    Output(io::Error),
    /// Reported already; with this exit code.
    Reported(Exit),
}

impl From<HistoryError> for Early {
    fn from(error: HistoryError) -> Self {
        Self::History(error)
    }
}

impl From<io::Error> for Early {
    fn from(error: io::Error) -> Self {
        Self::Output(error)
    }
}

impl From<serde_json::Error> for Early {
    fn from(error: serde_json::Error) -> Self {
        Self::Output(error.into())
    }
}

pub(super) fn history(console: &mut Console, args: &HistoryArgs) -> Exit {
    let answered = answer(console, args).and_then(|exit| {
        console.out().flush()?;
        Ok(exit)
    });
    match answered {
        Ok(exit) => exit,
        Err(Early::Output(error)) => console.output_error(&error),
        Err(Early::Reported(exit)) => exit,
        Err(Early::History(error)) => {
            history_error(console, &error);
            Exit::BadInput
        }
    }
}

/// Reports an error of a history, with a hint.
pub(super) fn history_error(console: &Console, error: &HistoryError) {
    console.error(error);
    if let Some(hint) = error.hint() {
        message(&format!("hint: {hint}"));
    }
}

fn answer(console: &mut Console, args: &HistoryArgs) -> Result<Exit, Early> {
    let path = history_asked(args.history.as_deref());
    if let Question::Add(add) = &args.question {
        let mut files = Files::default();
        files.writes_history("--history", &path);
        for record in &add.records {
            files.reads("record", record);
        }
        files.check(console).map_err(Early::Reported)?;
    }
    let if_missing = if matches!(args.question, Question::Add(_)) { IfMissing::Make } else { IfMissing::Refuse };
    if if_missing == IfMissing::Make
        && let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty() && args.history.is_none())
    {
        std::fs::create_dir_all(folder)?;
    }
    let mut history = History::open(&path, if_missing)?;
    let look = console.look;
    match &args.question {
        Question::List(list) => {
            let runs = history.runs(&Which { most: Some(list.most), ..which(&list.which) })?;
            if list.json {
                return json(console, &runs);
            }
            let all = history.count()?;
            lines(console, tables::runs(&look, &runs, all))
        }
        Question::Show(show) => {
            let run = run(console, &history, show.run)?;
            if show.json { json(console, &run) } else { lines(console, tables::run(&look, &run)) }
        }
        Question::Compare(args) => {
            let earlier = run(console, &history, args.earlier)?;
            let later = run(console, &history, args.later)?;
            let comparison = compare(earlier, later);
            if args.json { json(console, &comparison) } else { lines(console, tables::comparison(&look, &comparison)) }
        }
        Question::Follow(follow) => {
            let sensor = sensor(console, &history, &follow.sensor)?;
            let days = history.follow(&sensor.rom, follow.days)?;
            if follow.json { json(console, &days) } else { lines(console, tables::sensor(&look, &sensor, &days)) }
        }
        Question::Changes(changes) => {
            let mut findings = history.findings(None)?;
            findings.retain(|finding| changes.all || finding.state == FindingState::Open);
            if changes.json { json(console, &findings) } else { lines(console, tables::changes(&look, &findings)) }
        }
        Question::Accept(args) => accept(console, &mut history, &args.changes),
        Question::Export(export) => write_export(console, &history, export),
        Question::Add(add) => add_records(console, &mut history, add),
        Question::Check => {
            history.check()?;
            let runs = history.count()?;
            Ok(console.line(&format!("history {}: sound, {runs} runs", path.display())))
        }
    }
}

fn accept(console: &mut Console, history: &mut History, changes: &[i64]) -> Result<Exit, Early> {
    let writing = history.write()?;
    let mut accepted = Vec::new();
    for id in changes {
        accepted.push((id, writing.set_finding(*id, FindingState::Accepted)?));
    }
    writing.keep()?;
    let mut exit = Exit::AllMet;
    for (id, is_there) in accepted {
        if is_there {
            let text = format!("change {id} accepted: from its first run on, it is the norm");
            exit = exit.max(console.line(&text));
        } else {
            console.error(format_args!("there is no change with the number {id}: see hil-runner history changes"));
            exit = Exit::BadInput;
        }
    }
    Ok(exit)
}

fn which(args: &WhichArgs) -> Which {
    let WhichArgs { rig, scenario, night, outcome } = args;
    Which {
        rig: rig.clone(),
        scenario: scenario.clone(),
        night: night.clone(),
        outcome: outcome.map(Into::into),
        most: None,
    }
}

fn run(console: &Console, history: &History, id: i64) -> Result<slotwise_past::RunDetail, Early> {
    history.run(id)?.ok_or_else(|| {
        console.error(format_args!("there is no run with the number {id}: see hil-runner history list"));
        Early::Reported(Exit::BadInput)
    })
}

/// The one sensor of this label or ROM code.
fn sensor(console: &Console, history: &History, name: &str) -> Result<KnownSensor, Early> {
    // ROM codes are kept in capitals.
    let code = name.parse().map_or_else(|_| name.to_owned(), |rom: slotwise::bus::RomCode| rom.to_string());
    let mut found = history.sensors(Some(&code))?;
    match found.len() {
        1 => Ok(found.remove(0)),
        0 => {
            let known = history.sensors(None)?;
            let labels: Vec<String> = known.into_iter().map(|sensor| sensor.label.unwrap_or(sensor.rom)).collect();
            let shown = labels.iter().take(12).cloned().collect::<Vec<_>>().join(", ");
            let more = if labels.len() > 12 { ", ..." } else { "" };
            console.error(format_args!(
                "expected a sensor of the history by label or ROM code ({shown}{more}), found {name:?}"
            ));
            Err(Early::Reported(Exit::BadInput))
        }
        _ => {
            let codes: Vec<String> = found.into_iter().map(|sensor| sensor.rom).collect();
            console.error(format_args!(
                "{name:?} was the label of several sensors: name one by ROM code: {}",
                codes.join(", ")
            ));
            Err(Early::Reported(Exit::BadInput))
        }
    }
}

fn lines(console: &mut Console, lines: Vec<String>) -> Result<Exit, Early> {
    for line in lines {
        writeln!(console.out(), "{line}")?;
    }
    let look = console.look;
    writeln!(console.out(), "{}", caution_line(&look))?;
    Ok(Exit::AllMet)
}

fn json(console: &mut Console, value: &impl serde::Serialize) -> Result<Exit, Early> {
    serde_json::to_writer_pretty(console.out(), value)?;
    writeln!(console.out())?;
    Ok(Exit::AllMet)
}

fn write_export(console: &mut Console, history: &History, args: &ExportArgs) -> Result<Exit, Early> {
    let what = match args.what {
        What::Runs => Export::Runs,
        What::Readings => Export::Readings,
        What::Figures => Export::Figures,
    };
    let out = io::BufWriter::new(console.out());
    let written = match args.form {
        Form::Csv => csv(history, what, &which(&args.which), out),
        Form::JsonLines => json_lines(history, what, &which(&args.which), out),
    };
    match written {
        Ok(()) => Ok(Exit::AllMet),
        Err(ExportError::History(error)) => Err(Early::History(error)),
        Err(ExportError::Taker(error)) => Err(Early::Output(error)),
    }
}

fn csv(history: &History, what: Export, which: &Which, out: impl Write) -> Result<(), ExportError<io::Error>> {
    let mut writer = csv::Writer::from_writer(out);
    history.export(what, which, |names, row| {
        let fields = row.map_or_else(|| names.to_vec(), |row| row.iter().map(plain).collect());
        writer.write_record(fields).map_err(io::Error::from)
    })?;
    writer.flush().map_err(ExportError::Taker)
}

fn plain(cell: &Cell) -> String {
    match cell {
        Cell::Nothing => String::new(),
        Cell::Whole(number) => number.to_string(),
        Cell::Number(number) => number.to_string(),
        Cell::Text(text) => text.clone(),
    }
}

fn json_lines(
    history: &History,
    what: Export,
    which: &Which,
    mut out: impl Write,
) -> Result<(), ExportError<io::Error>> {
    history.export(what, which, |names, row| {
        let Some(row) = row else { return Ok(()) };
        let object: serde_json::Map<String, serde_json::Value> =
            names.iter().cloned().zip(row.iter().map(value)).collect();
        serde_json::to_writer(&mut out, &object)?;
        writeln!(out)
    })?;
    out.flush().map_err(ExportError::Taker)
}

fn value(cell: &Cell) -> serde_json::Value {
    match cell {
        Cell::Nothing => serde_json::Value::Null,
        Cell::Whole(number) => (*number).into(),
        Cell::Number(number) => (*number).into(),
        Cell::Text(text) => text.clone().into(),
    }
}

fn add_records(console: &mut Console, history: &mut History, args: &AddArgs) -> Result<Exit, Early> {
    let mut exit = Exit::AllMet;
    let (mut new, mut known) = (0_usize, 0_usize);
    let mut order: Vec<(DateTime<FixedOffset>, &Path)> = Vec::new();
    for path in &args.records {
        match read_record(path) {
            Ok(record) => {
                // A record that was read has a time.
                order.extend(DateTime::parse_from_rfc3339(&record.started_at).ok().map(|began| (began, &**path)));
            }
            Err(error) => {
                console.error(format_args!("{}: {error}", path.display()));
                exit = Exit::BadInput;
            }
        }
    }
    // Each run is held against those before it, so what was first comes first, whatever a shell makes of `nights/*`.
    order.sort();
    for (_, path) in order {
        // Once more: all of them at once may be more than the memory holds.
        let record = match read_record(path) {
            Ok(record) => record,
            Err(error) => {
                console.error(format_args!("{}: {error}", path.display()));
                exit = Exit::BadInput;
                continue;
            }
        };
        let folder = path.parent().and_then(|folder| std::path::absolute(folder).ok());
        let night = args.night.clone().or_else(|| night_around(path));
        let (added, _) = add_run(history, &record, RunPlace { night: night.as_deref(), folder: folder.as_deref() })?;
        match added {
            Added::New(_) => new += 1,
            Added::Known(_) => known += 1,
        }
    }
    Ok(exit.max(console.line(&format!("{} added, {known} were there already", count(new, "run")))))
}

/// The name of the night whose folder a record lies in: `NIGHT/RUN/record.json`.
fn night_around(path: &Path) -> Option<String> {
    let path = std::path::absolute(path).ok()?;
    let night = path.parent()?.parent()?;
    night.join("night.json").exists().then(|| night.file_name()?.to_str().map(str::to_owned)).flatten()
}
