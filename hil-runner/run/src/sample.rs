//! A record of a short run on an ideal bench, for tests.
#![allow(clippy::missing_panics_doc, clippy::must_use_candidate)]

use slotwise_rig::Rig;
use slotwise_scenario::Scenario;
use slotwise_terms::Stop;

use super::{Order, execute};
use crate::judge::Judge;
use slotwise_bench::ideal::{IdealBench, rig};
use slotwise_record::{Record, Recorder, Start};

const SCENARIO: &str = r#"
    scenario = "look"
    [[step]]
    label = "all are there"
    find = { times = 3 }
    [[step]]
    label = "all measure"
    measure = { convert = "one by one", in_time = true }
"#;

/// A record of a run on an ideal bench with four sensors, that began at this second.
pub fn sample_record(second: i64) -> Record {
    record_on(&rig(4), second)
}

/// The same on this rig.
pub fn record_on(rig: &Rig, second: i64) -> Record {
    let scenario = Scenario::parse("look.toml", SCENARIO, rig).expect("it is a good one");
    let mut bench = IdealBench::new(rig);
    let judge = Judge::new().expect("it is a good one");
    let bench_driver = slotwise_bench::Bench::driver(&bench);
    let start = Start {
        rig,
        scenario: &scenario,
        seed: 1,
        driver: bench_driver,
        bridge: slotwise_rig::reply::BridgeRecord::default(),
    };
    let mut recorder = Recorder::new(&start, chrono::DateTime::from_timestamp(second, 0).expect("it is a good one"));
    execute(Order { rig, scenario: &scenario, seed: 1, judge: &judge }, &mut bench, &Stop::new(), &mut recorder);
    recorder.into_record()
}
