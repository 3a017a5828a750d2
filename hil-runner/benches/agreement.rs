//! Runs on rigs of which the judge of captures should have nothing to say: how many of them it objects to. Prints the figure, and fails if
//! there is one.
//!
//! `cargo bench -p hil-runner --bench agreement -- 100` does so many runs; without a number, 1000.

#[path = "../tests/all/pulses/mod.rs"]
mod pulses;

use std::process::ExitCode;

use hil_runner::record::RunOutcome;
use pulses::{Case, Chip, Power, recorded};

const RUNS: u64 = 1_000;

fn main() -> ExitCode {
    let runs = std::env::args().filter_map(|word| word.parse().ok()).next().unwrap_or(RUNS);
    let (mut passed, mut objected, mut other, mut judged_s) = (0, 0, 0, 0.0);
    for seed in 0..runs {
        let power = if seed % 2 == 0 { Power::Local } else { Power::Parasite };
        let convert = if seed / 2 % 2 == 0 { "together" } else { "one by one" };
        let proof = if seed / 4 % 2 == 0 { "each" } else { "none" };
        let end = recorded(&Case { power, convert, proof, chip: Chip::Virtual, noise: None }, seed, 4);
        let capture = end.capture.expect("the line was recorded");
        judged_s += capture.judged_ns as f64 / 1e9;
        match end.outcome {
            RunOutcome::Passed => passed += 1,
            _ if !capture.objections.is_empty() => {
                objected += 1;
                println!("seed {seed}, {power:?}, {convert}, proof {proof}: {:?}", capture.objections);
            }
            outcome => {
                other += 1;
                println!("seed {seed}, {power:?}, {convert}, proof {proof}: {outcome:?}");
            }
        }
    }
    println!(
        "{runs} runs, {judged_s:.0} s of recorded lines judged: {passed} passed, {objected} objected to, {other} failed otherwise"
    );
    if objected + other == 0 && judged_s > 0.0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
