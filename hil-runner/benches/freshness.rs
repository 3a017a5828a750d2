//! What becomes of readings while pulses pull the line low: right, doubted, failed, or wrong without a word. Prints a
//! table, and fails if one of the accepted readings is wrong.
//!
//! `cargo bench -p hil-runner --bench freshness -- virtual each 200` takes so many readings of each case, on that kind
//! of rig and with that proof; without words, on both kinds of rig, with proof and without, and more than 100 000
//! readings are accepted for each kind of power, which takes a quarter of an hour or more.

#[path = "../tests/all/pulses/mod.rs"]
mod pulses;

use std::process::ExitCode;

use pulses::{Case, Chip, Power, Tally, run};

/// Width in microseconds.
const WIDTHS_US: [u32; 8] = [1, 5, 20, 60, 200, 500, 700, 1_000];
const PER_SECOND: [u32; 4] = [1, 3, 10, 100];
const PROOFS: [&str; 2] = ["each", "none"];
const CHIPS: [&str; 2] = ["virtual", "emulated"];
const ROUNDS: u32 = 20;
/// By default: more than 100 000 accepted for each kind of power.
const READINGS: u64 = 3_000;
const EMULATED_READINGS: u64 = 80;

fn main() -> ExitCode {
    let readings = std::env::args().filter_map(|word| word.parse().ok()).next().unwrap_or(READINGS);
    println!(
        "{:<10} {:<12} {:<6} {:<9} {:>5} {:>7} {:>8} {:>8} {:>8} {:>8} {:>7} {:>7}",
        "power", "convert", "proof", "chip", "/s", "us", "right", "doubted", "failed", "broken", "wrong", "wrong,"
    );
    println!("{:>111} {:>7}", "", "doubted");
    let mut sums = Vec::new();
    for power in [Power::Local, Power::Parasite] {
        for proof in PROOFS.into_iter().filter(|proof| is_wanted(proof, PROOFS)) {
            let mut sum = Tally::default();
            for convert in ["together", "one by one"] {
                for chip in [Chip::Virtual, Chip::Emulated].into_iter().filter(|chip| is_wanted(name(*chip), CHIPS)) {
                    let is_emulated = chip == Chip::Emulated;
                    if is_emulated && proof == "none" {
                        continue;
                    }
                    sum.add(&table(
                        (power, convert, proof, chip),
                        if is_emulated { EMULATED_READINGS.min(readings) } else { readings },
                    ));
                }
            }
            sums.push((power, proof, sum));
        }
    }
    let mut code = ExitCode::SUCCESS;
    for (power, proof, sum) in sums {
        println!(
            "{power:?}, proof \"{proof}\": {} accepted, {} of them wrong; {} doubted, {} failed, {} runs broken",
            sum.accepted(),
            sum.wrong,
            sum.right_doubted + sum.wrong_doubted,
            sum.failed,
            sum.broken
        );
        if sum.accepted() == 0 || (proof == "each" && sum.wrong > 0) {
            code = ExitCode::FAILURE;
        }
    }
    code
}

/// A word names the one chip, or the one proof, that is wanted.
fn is_wanted(word: &str, all: [&str; 2]) -> bool {
    std::env::args().all(|given| given == word || !all.contains(&given.as_str()))
}

const fn name(chip: Chip) -> &'static str {
    match chip {
        Chip::Virtual => CHIPS[0],
        Chip::Emulated => CHIPS[1],
    }
}

fn table((power, convert, proof, chip): (Power, &'static str, &'static str, Chip), readings: u64) -> Tally {
    let mut sum = Tally::default();
    let quiet = std::iter::once(None);
    let noises = PER_SECOND.iter().flat_map(|rate| WIDTHS_US.iter().map(|width| Some((*rate, *width))));
    for noise in quiet.chain(noises) {
        let case = Case { power, convert, proof, chip, noise };
        let tally = rows(&case, readings);
        let (rate, width) = noise.unwrap_or_default();
        println!(
            "{:<10} {:<12} {:<6} {:<9} {:>5} {:>7} {:>8} {:>8} {:>8} {:>8} {:>7} {:>7}",
            format!("{power:?}").to_lowercase(),
            convert,
            proof,
            name(chip),
            rate,
            width,
            tally.right,
            tally.right_doubted,
            tally.failed,
            tally.broken,
            tally.wrong,
            tally.wrong_doubted
        );
        sum.add(&tally);
    }
    sum
}

fn rows(case: &Case, readings: u64) -> Tally {
    let mut tally = Tally::default();
    for seed in 0..readings {
        if tally.all() >= readings {
            break;
        }
        tally.add(&run(case, seed, ROUNDS));
    }
    tally
}
