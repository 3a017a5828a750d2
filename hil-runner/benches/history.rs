//! How long a history of a hundred thousand runs takes to answer: `cargo bench -p hil-runner --bench history`.
//!
//! The history is made of one real run of the cellar in virtual time, stored many times with another time of day; it
//! lies in a folder that is removed at the end. Each question is asked seven times; the median counts.

use std::time::{Duration, Instant};

use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::{Outside, Tracing, open};
use slotwise_history::regression::{assess, compare};
use slotwise_history::{History, IfMissing, RunPlace, Which};
use slotwise_record::Start;
use slotwise_record::{Record, Recorder};
use slotwise_rig::built_in_rig;
use slotwise_run::judge::Judge;
use slotwise_run::{Order, execute};
use slotwise_scenario::Scenario;
use slotwise_terms::Stop;

const RUNS: u32 = 100_000;
const RUNS_A_DAY: u32 = 100;
const SCENARIO: &str = r#"
    scenario = "a look at the cellar"
    [[step]]
    label = "everybody answers"
    find = { times = 3 }
    [[step]]
    label = "each measures"
    measure = { convert = "one by one", in_time = true }
    [[step]]
    label = "all measure"
    measure = { convert = "together" }
"#;

fn record() -> Record {
    let rig = built_in_rig("cellar").expect("it is built in");
    let scenario = Scenario::parse("look.toml", SCENARIO, &rig).expect("a good scenario");
    let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
    let mut bench = open(&rig, 1, Tracing::Off, outside).expect("a good rig");
    let judge = Judge::new().expect("the tables are there");
    let start = Start { rig: &rig, scenario: &scenario, seed: 1, driver: bench.driver(), bridge: bench.bridge() };
    let mut recorder = Recorder::new(&start, chrono::Utc::now());
    execute(
        Order { rig: &rig, scenario: &scenario, seed: 1, judge: &judge },
        bench.as_mut(),
        &Stop::new(),
        &mut recorder,
    );
    recorder.into_record()
}

fn median(question: impl Fn()) -> Duration {
    let mut times: Vec<Duration> = (0..7)
        .map(|_| {
            let begun = Instant::now();
            question();
            begun.elapsed()
        })
        .collect();
    times.sort();
    times[times.len() / 2]
}

/// A question, and what it is called.
type Question<'h> = (&'static str, Box<dyn Fn() + 'h>);

fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("history.sqlite");
    let mut history = History::open(&path, IfMissing::Make).expect("a history");
    let mut record = record();
    let begun = Instant::now();
    let first = chrono::DateTime::from_timestamp(1_600_000_000, 0).expect("a time");
    // In one piece: else the disk would be waited for a hundred thousand times.
    let writing = history.write().expect("this is the only writer");
    for number in 0..RUNS {
        let day = i64::from(number / RUNS_A_DAY) * 86_400;
        let time = first + chrono::TimeDelta::seconds(day + i64::from(number % RUNS_A_DAY) * 60);
        record.started_at = time.to_rfc3339();
        writing.add(&record, RunPlace::default()).expect("room for it");
    }
    writing.keep().expect("room for it");
    let took = begun.elapsed();
    let bytes = std::fs::metadata(&path).map_or(0, |metadata| metadata.len());
    println!(
        "{RUNS} runs of 8 sensors, 16 readings each: added in {:.1} s, {} MB",
        took.as_secs_f64(),
        bytes / 1_000_000
    );
    // As any other program would find it, with nothing of it in memory but what the system has kept.
    drop(history);
    let history = History::open(&path, IfMissing::Refuse).expect("a history");
    let latest = i64::from(RUNS);
    let sensor = history.sensors(Some("brine bath")).expect("sensors").remove(0);
    let which = |most| Which { most: Some(most), ..Which::default() };
    let questions: [Question<'_>; 8] = [
        ("open it", Box::new(|| drop(History::open(&path, IfMissing::Refuse).expect("a history")))),
        ("list the last 20 runs", Box::new(|| drop(history.runs(&which(20)).expect("runs")))),
        (
            "list the runs of a scenario that there is not",
            Box::new(|| drop(history.runs(&Which { scenario: Some("none".into()), ..which(20) }).expect("runs"))),
        ),
        ("show a run", Box::new(|| drop(history.run(latest / 2).expect("a run")))),
        (
            "compare two runs",
            Box::new(|| {
                let run = |id| history.run(id).expect("a run").expect("a run");
                drop(compare(run(1), run(latest)));
            }),
        ),
        ("find a sensor by its label", Box::new(|| drop(history.sensors(Some("door")).expect("sensors")))),
        ("follow a sensor over 60 days", Box::new(|| drop(history.follow(&sensor.rom, 60).expect("days")))),
        ("say what has changed in the last run", Box::new(|| drop(assess(&history, latest).expect("an assessment")))),
    ];
    for (what, question) in questions {
        println!("  {what:<50} {:>8.2} ms", median(question).as_secs_f64() * 1000.0);
    }
}
