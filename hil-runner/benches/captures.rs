//! What the judge of captures finds of faults that are known, and what it finds where there are none:
//! `cargo bench -p hil-runner --bench captures`, with `-- 400` for so many captures of each class.
//!
//! Legal captures, and captures with one fault of each class, are made by a generator that shares nothing with the
//! judge. A fault is left out where sampling cannot show it; the generator says why.

#[path = "../tests/all/generated/mod.rs"]
mod generated;

use std::collections::BTreeMap;
use std::time::Instant;

use generated::faults::{classes, make};
use generated::legal;
use generated::line::{Sampled, Step};
use generated::score::{Tally, score};
use serde_json::Value;
use slotwise_waveform::{Facts, judge_vcd};

/// Captures of each class, and legal ones for each of them.
const OF_EACH: u64 = 100;
const LEGAL: u64 = 40;

fn report(vcd: &str) -> Value {
    let report = judge_vcd(vcd.as_bytes(), None, Facts::default()).expect("a capture with a line");
    serde_json::to_value(&report).expect("a report is JSON")
}

/// Legal captures of one kind: how many, how many accuse a party, how many are not plainly sound, and by what.
fn legal_row(name: &str, count: u64, make: impl Fn(Sampled) -> String) -> (u64, u64) {
    let (mut alarms, mut doubts) = (0, 0);
    let mut topics: BTreeMap<String, u64> = BTreeMap::new();
    for seed in 0..count {
        let step = Step::FINE[(seed % Step::FINE.len() as u64) as usize];
        // Other seeds than those of the tests.
        let sampled = legal::any(seed + 1_000_000, step).sampled();
        let report = report(&make(sampled));
        let outcome = report["outcome"].as_str().unwrap_or_default();
        alarms += u64::from(outcome == "faulty");
        doubts += u64::from(!matches!(outcome, "faulty" | "sound"));
        if outcome != "sound" {
            for finding in report["findings"].as_array().into_iter().flatten() {
                *topics.entry(finding["topic"].as_str().unwrap_or_default().to_owned()).or_default() += 1;
            }
        }
    }
    let by = topics.iter().map(|(topic, count)| format!("{count} {topic}")).collect::<Vec<_>>().join(", ");
    println!("| {name} | {count} | {alarms} | {doubts} | {by} |");
    (count, alarms)
}

fn percent(part: u64, whole: u64) -> String {
    if whole == 0 { "-".to_owned() } else { format!("{:.1} %", part as f64 * 100.0 / whole as f64) }
}

fn row(name: &str, party: &str, tally: &Tally) {
    let left_out = tally.left_out.iter().map(|(why, count)| format!("{count}: {why}")).collect::<Vec<_>>().join("; ");
    println!(
        "| {name} | {party} | {} | {} | {} | {} | {} | {:.1} | {left_out} |",
        tally.generated,
        percent(tally.found, tally.generated),
        percent(tally.named, tally.generated),
        percent(tally.timed, tally.generated),
        percent(tally.with_sensors, tally.of_sensors),
        tally.faults as f64 / tally.generated.max(1) as f64,
    );
}

fn main() {
    let of_each = std::env::args().find_map(|text| text.parse().ok()).unwrap_or(OF_EACH);
    let began = Instant::now();
    println!("| legal captures | judged | accused | not plainly sound | by |\n|---|---|---|---|---|");
    let legal = LEGAL * of_each;
    let mut all = vec![legal_row("as they are", legal, |sampled| sampled.vcd(None))];
    all.push(legal_row("inverted", legal / 8, |sampled| sampled.inverted().vcd(None)));
    all.push(legal_row("beside a slow signal", legal / 8, |sampled| {
        let beside = sampled.slow_signal();
        sampled.vcd(Some(&beside))
    }));
    let (count, alarms) = all.into_iter().fold((0, 0), |sum, row| (sum.0 + row.0, sum.1 + row.1));
    println!(
        "\nfalse alarms: {alarms} of {count} legal captures ({:.2} in 1000)\n",
        alarms as f64 * 1e3 / count as f64
    );
    println!(
        "| fault | whose | captures | found | rightly named | right time | right sensor | faults reported | left out |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    let mut total = Tally::default();
    for class in &classes() {
        let mut tally = Tally::default();
        for seed in 0..of_each {
            match make(class, seed + 1_000_000) {
                Err(why) => *tally.left_out.entry(why).or_default() += 1,
                Ok(made) => {
                    let report = report(&made.sampled.vcd(None));
                    tally.add(score(&report, &made.truth, made.step.whole_ns()));
                }
            }
        }
        row(class.name, class.party, &tally);
        total.merge(&tally);
    }
    row("**all**", "", &total);
    println!("\n{} classes, {:.0} s", classes().len(), began.elapsed().as_secs_f64());
}
