//! Whole runs on a virtual rig, with a carrier of the test's choice between the host and the bridge's own service.

use std::time::{Duration, Instant};

use slotwise_virtual_line::{Cpu, SensorId, VirtualLine};

use crate::judge::Judge;
use crate::{Order, execute};
use slotwise_bench::Tracing;
use slotwise_bench::inside::BridgeBench;
use slotwise_bench::inside::{OnLine, VirtualHands, build_line, in_process};
use slotwise_bench::link::{Carrier, Link, LinkError};
use slotwise_bench::{Bench, ideal};
use slotwise_record::Start;
use slotwise_record::{Record, Recorder, RunOutcome};
use slotwise_rig::{Rig, built_in_rig};
use slotwise_scenario::{Scenario, built_in_scenario};
use slotwise_terms::Stop;

/// Every kind of request, on three sensors that know neither noise nor lag: what they answer does not depend on when.
const SHORT: &str = r#"
scenario = "short"
[[step]]
find = { times = 2 }
[[step]]
configure = { resolution = 10, alarm = { low = "2 degC", high = "21 degC" }, save = "if changed" }
[[step]]
configure = { resolution = 10, alarm = { low = "2 degC", high = "21 degC" }, save = "unchanged" }
[[step]]
measure = { near = { reference = "rig", within = "0.5 degC" }, quantised = true }
[[step]]
ambient = { sensors = "shelf 2", to = "85 degC" }
[[step]]
measure = { convert = "one by one", near = { reference = "rig", within = "0.5 degC" }, in_time = true }
[[step]]
measure = { sensors = { except = "shelf 2" } }
[[step]]
alarm_search = { expect = "shelf 2" }
[[step]]
inject = { unplug = "shelf 3" }
[[step]]
measure = { sensors = "shelf 3", fails = "no answer" }
[[step]]
clear = "unplug"
[[step]]
inject = { bit_errors = { sensor = "shelf 1", rate = "100 %" } }
[[step]]
measure = { sensors = "shelf 1", convert = "not", fails = "crc" }
[[step]]
clear = "bit_errors"
[[step]]
power_cycle = { off = "300 ms" }
[[step]]
measure = { convert = "not", doubt = ["power-on value", "no conversion"] }
[[step]]
holds = { resolution = 10, alarm = { low = "2 degC", high = "21 degC" } }
"#;

/// Of the line, not of the mishaps: the same in every run, so that runs can be compared.
const LINE_SEED: u64 = 7;

/// A scenario and its rig.
pub(super) struct Play {
    pub(super) rig: Rig,
    pub(super) scenario: Scenario,
}

/// The short scenario.
pub(super) fn short() -> Play {
    let rig = ideal::rig(3);
    let scenario = Scenario::parse("<short>", SHORT, &rig).unwrap_or_else(|errors| panic!("{errors:?}"));
    Play { rig, scenario }
}

/// The built-in one.
pub(super) fn cellar() -> Play {
    let rig = built_in_rig("cellar").unwrap();
    let scenario = built_in_scenario("cellar", &rig).unwrap().unwrap_or_else(|errors| panic!("{errors:?}"));
    Play { rig, scenario }
}

/// What a sensor went through, by its own count: conversions, and writes of its EEPROM.
pub(super) type Wear = (u64, u64);

/// A run and its results.
pub(super) struct Ran {
    /// None if there never was a session.
    pub(super) record: Option<Record>,
    pub(super) wear: Vec<Wear>,
    /// The error, if it ended in one.
    pub(super) broken: Option<String>,
    /// How long it took, by the time of the rig and on the wall.
    pub(super) rig_time: Duration,
    pub(super) wall_time: Duration,
}

impl Ran {
    pub(super) fn outcome(&self) -> RunOutcome {
        self.record.as_ref().map_or(RunOutcome::Broken, |record| record.end.outcome)
    }
}

/// The carrier of a fresh line, that line, and its sensors.
pub(super) fn line(rig: &Rig) -> (Box<dyn Carrier>, VirtualLine, OnLine) {
    let kind = rig.virtual_line().unwrap();
    let (line, on_line) = build_line(rig, kind, Cpu::at_mhz(kind.clock_mhz), LINE_SEED, Tracing::Off).unwrap();
    (in_process(&line, kind.clock_mhz).unwrap(), line, on_line)
}

/// Runs a scenario through the carrier that `wrap` makes of the one in this process.
pub(super) fn run(play: &Play, wrap: impl FnOnce(Box<dyn Carrier>, &VirtualLine) -> Box<dyn Carrier>) -> Ran {
    let began = Instant::now();
    let (carrier, line, on_line) = line(&play.rig);
    let sensors: Vec<SensorId> = on_line.sensors().to_vec();
    let hands = VirtualHands { line: line.clone(), on_line };
    let opened = Link::open(wrap(carrier, &line), 1).and_then(|link| BridgeBench::new(link, hands, &play.rig));
    let run = opened.map(|mut bench| follow(play, &mut bench));
    let wear = sensors.into_iter().map(|sensor| line.inspect(sensor).unwrap());
    let (record, broken) = match run {
        Ok(record) => {
            let broken = record.end.breakage.as_ref().map(|breakage| breakage.text.clone());
            (Some(record), broken)
        }
        Err(error) => (None, Some(error.to_string())),
    };
    Ran {
        record,
        wear: wear.map(|truth| (truth.conversions, truth.eeprom_writes)).collect(),
        broken,
        rig_time: Duration::from_nanos(line.now_ns()),
        wall_time: began.elapsed(),
    }
}

fn follow(play: &Play, bench: &mut dyn Bench) -> Record {
    let Play { rig, scenario } = play;
    let judge = Judge::new().unwrap();
    let start = Start { rig, scenario, seed: LINE_SEED, driver: bench.driver(), bridge: bench.bridge() };
    let mut recorder = Recorder::new(&start, chrono::DateTime::UNIX_EPOCH);
    let order = Order { rig, scenario, seed: LINE_SEED, judge: &judge };
    execute(order, bench, &Stop::new(), &mut recorder);
    recorder.into_record()
}

/// What a carrier says that is lost in a test.
pub(super) const CUT: &str = "the line to the chip was cut";

/// The beginnings of all that a link error can say, as its texts have them.
pub(super) const NAMES: [&str; 14] = [
    "the bridge is silent: no answer to ",
    "garbled frames come from the bridge: ",
    "the bridge receives garbled frames: ",
    "the bridge was reset in mid-run by ",
    "another program took the bridge over in mid-run",
    "the bridge expects request ",
    "the bridge heard nothing from this tool for ",
    "the bridge refuses a conversion that may take longer than ",
    "the request was ended early",
    "the firmware on the bridge, version ",
    "the firmware on the bridge is for another role: ",
    "the bridge breaks the protocol: ",
    "the channel to the bridge is full: ",
    CUT,
];

/// Whether this is the text of a link error.
pub(super) fn is_named(text: &str) -> bool {
    NAMES.iter().any(|name| text.starts_with(name))
}

/// A link error from a session that a test has no other use for.
pub(super) fn error<T>(result: Result<T, LinkError>) -> LinkError {
    match result {
        Ok(_) => panic!("it cannot have succeeded"),
        Err(error) => error,
    }
}
