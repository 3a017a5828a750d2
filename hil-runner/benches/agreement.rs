//! Runs on rigs of which the judge of captures should have nothing to say: how many of them it objects to. Prints the
//! figure so far every ten seconds, so that a bench that is ended early has one, too; fails if the judge objects to a
//! run.
//!
//! `cargo bench -p hil-runner --bench agreement -- 100` does so many runs; without a number, 1000.

#[path = "../tests/all/pulses/mod.rs"]
mod pulses;

use std::fmt;
use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use pulses::{Case, Chip, Power, recorded};
use slotwise_record::{RunEnd, RunOutcome};

const RUNS: u64 = 1_000;
const PROGRESS: Duration = Duration::from_secs(10);

/// What became of the runs so far.
#[derive(Default)]
struct Figure {
    passed: u64,
    objected: u64,
    other: u64,
    judged_s: f64,
}

impl Figure {
    fn runs(&self) -> u64 {
        self.passed + self.objected + self.other
    }

    /// Counts a run, and returns what to say of one that did not pass.
    fn add(&mut self, end: &RunEnd) -> Option<String> {
        let Some(capture) = &end.capture else {
            self.other += 1;
            return Some("its line was not recorded".into());
        };
        self.judged_s += capture.judged_ns as f64 / 1e9;
        if end.outcome == RunOutcome::Passed {
            self.passed += 1;
            return None;
        }
        if capture.objections.is_empty() {
            self.other += 1;
            return Some(format!("{:?}", end.outcome));
        }
        self.objected += 1;
        Some(format!("{:?}", capture.objections))
    }
}

impl fmt::Display for Figure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} runs, {:.0} s of recorded lines judged: {} passed, {} objected to, {} failed otherwise; {:.1} disagreements per 1000 runs",
            self.runs(),
            self.judged_s,
            self.passed,
            self.objected,
            self.other,
            self.objected as f64 * 1e3 / self.runs().max(1) as f64
        )
    }
}

fn case(seed: u64) -> Case {
    let power = if seed.is_multiple_of(2) { Power::Local } else { Power::Parasite };
    let convert = if (seed / 2).is_multiple_of(2) { "together" } else { "one by one" };
    let proof = if (seed / 4).is_multiple_of(2) { "each" } else { "none" };
    Case { power, convert, proof, chip: Chip::Virtual, noise: None }
}

fn main() -> ExitCode {
    let runs = std::env::args().filter_map(|word| word.parse().ok()).next().unwrap_or(RUNS);
    let next = AtomicU64::new(0);
    let (sender, ends) = mpsc::channel();
    let mut figure = Figure::default();
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, usize::from) {
            let (sender, next) = (sender.clone(), &next);
            scope.spawn(move || {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= runs || sender.send((seed, recorded(&case(seed), seed, 4))).is_err() {
                        return;
                    }
                }
            });
        }
        drop(sender);
        let mut shown = Instant::now();
        for (seed, end) in ends {
            if let Some(what) = figure.add(&end) {
                let Case { power, convert, proof, .. } = case(seed);
                println!("seed {seed}, {power:?}, {convert}, proof {proof}: {what}");
            }
            if shown.elapsed() >= PROGRESS {
                println!("so far: {figure}");
                shown = Instant::now();
            }
        }
    });
    println!("{figure}");
    if figure.passed == figure.runs() && figure.judged_s > 0.0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
