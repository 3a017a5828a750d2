//! The judge of captures against captures of which everything is known: legal ones, and one fault of each class.
//!
//! A small form of `cargo bench -p hil-runner --bench captures`, with fixed seeds.

use crate::generated::faults::{classes, make};
use crate::generated::legal;
use crate::generated::line::Step;
use crate::generated::score::{Score, Tally, score};
use serde_json::Value;
use slotwise_waveform::{Facts, judge_edges, judge_vcd};

/// Legal captures of each kind.
const LEGAL: u64 = 24;
/// Captures of each class.
const OF_EACH: u64 = 2;

fn report(vcd: &str) -> Value {
    let report = judge_vcd(vcd.as_bytes(), None, Facts::default()).expect("a capture with a line");
    serde_json::to_value(&report).expect("a report is JSON")
}

fn is_sound(seed: u64, kind: &str, report: &Value) {
    let findings = report["findings"].as_array().expect("a list");
    assert!(
        report["outcome"] == "sound" && findings.is_empty(),
        "{kind}, seed {seed}: {} {findings:#?}",
        report["outcome"]
    );
}

#[test]
fn legal_captures_are_sound_at_every_step() {
    for seed in 0..LEGAL {
        let step = Step::FINE[seed as usize % Step::FINE.len()];
        let sampled = legal::any(seed, step).sampled();
        is_sound(seed, step.name, &report(&sampled.vcd(None)));
    }
}

#[test]
fn captures_that_are_inverted_or_stand_beside_another_signal_are_the_same() {
    for seed in 0..LEGAL / 2 {
        let step = Step::FINE[seed as usize % Step::FINE.len()];
        let sampled = legal::any(seed, step).sampled();
        let beside = sampled.slow_signal();
        is_sound(seed, "beside a slow signal", &report(&sampled.vcd(Some(&beside))));
        let inverted = report(&sampled.inverted().vcd(None));
        is_sound(seed, "inverted", &inverted);
        assert_eq!(inverted["is_inverted"], true, "seed {seed}");
    }
}

#[test]
fn edges_in_memory_are_judged_like_those_of_a_file() {
    let sampled = legal::any(7, Step::FINE[0]).sampled();
    let from_edges = judge_edges(&sampled.changes, sampled.end_ns, Facts::default()).unwrap();
    let from_file = judge_vcd(sampled.vcd(None).as_bytes(), None, Facts::default()).unwrap();
    assert_eq!((from_edges.outcome, &from_edges.findings), (from_file.outcome, &from_file.findings));
    assert_eq!((from_edges.activity, &from_edges.times), (from_file.activity, &from_file.times));
}

/// Targets: found at least 98 %, rightly named 95 %.
#[test]
fn faults_of_every_class_are_found_and_named() {
    let mut total = Tally::default();
    let mut missed = Vec::new();
    for class in &classes() {
        for seed in 0..OF_EACH {
            // What a capture cannot show is left out: the generator says so.
            let made = match make(class, seed * 5) {
                Ok(made) => made,
                Err(why) => {
                    *total.left_out.entry(why).or_default() += 1;
                    continue;
                }
            };
            let score: Score = score(&report(&made.sampled.vcd(None)), &made.truth, made.step.whole_ns());
            total.add(score);
            if !score.is_found || !score.is_named || score.has_sensors == Some(false) {
                missed.push(format!("{} of the {} (seed {}): {score:?}", class.name, class.party, seed * 5));
            }
        }
    }
    assert!(total.generated > 150, "{} captures, left out: {:?}", total.generated, total.left_out);
    assert!(total.found * 100 >= total.generated * 98, "{} of {} found: {missed:#?}", total.found, total.generated);
    assert!(total.named * 100 >= total.generated * 95, "{} of {} named: {missed:#?}", total.named, total.generated);
    assert!(
        total.with_sensors * 100 >= total.of_sensors * 98,
        "{} of {} with the sensor: {missed:#?}",
        total.with_sensors,
        total.of_sensors
    );
}
