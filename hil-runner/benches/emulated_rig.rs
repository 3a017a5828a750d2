//! How fast the emulated rig is, and what a request costs on its way by the debug probe. Prints the figures, and fails
//! if the rig is slower than real time.

use std::convert::Infallible;
use std::rc::Rc;
use std::time::{Duration, Instant};

use chrono::Utc;
use slotwise_bench::debug_probe::{SilentListener, TimeSource, attach, bring_up, open_rtt, packed_image};
use slotwise_bench::link::Link;
use slotwise_bench::{EmulatedChip, Outside, Tracing, open_emulated};
use slotwise_bridge::message::Request;
use slotwise_emulated_mcu::{CHIP_NAME, ChipConfig, EmulatedMcu, PinName, Port, Wiring};
use slotwise_record::Start;
use slotwise_record::{Recorder, RunOutcome};
use slotwise_rig::built_in_rig;
use slotwise_run::judge::Judge;
use slotwise_run::{Order, execute};
use slotwise_scenario::built_in_scenario;
use slotwise_terms::Stop;
use slotwise_virtual_line::{LineConfig, VirtualLine};

/// Between two looks of the host: what a debug probe on USB needs at least.
const LOOK_NS: u64 = 125_000;
const REQUESTS: u32 = 500;

fn main() {
    cellar();
    round_trips();
}

/// The cellar, from the start of the chip to the last verdict.
fn cellar() {
    let rig = built_in_rig("cellar").and_then(slotwise_rig::Rig::emulated).expect("it is built in");
    let scenario = built_in_scenario("cellar", &rig).expect("it is built in").expect("it is for this rig");
    let line = rig.virtual_line().expect("a rig in virtual time");
    let judge = Judge::new().expect("the tables are sound");
    let began = Instant::now();
    let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
    let mut bench =
        open_emulated(&rig, line, (1, Tracing::Off), EmulatedChip::default(), outside).expect("it comes up");
    let flashed = began.elapsed();
    let start = Start { rig: &rig, scenario: &scenario, seed: 1, driver: bench.driver(), bridge: bench.bridge() };
    let mut recorder = Recorder::new(&start, Utc::now());
    let order = Order { rig: &rig, scenario: &scenario, seed: 1, judge: &judge };
    let end = execute(order, bench.as_mut(), &Stop::new(), &mut recorder);
    assert_eq!(end.outcome, RunOutcome::Passed);
    let (rig_s, wall_s) = (end.at_ns as f64 / 1e9, (began.elapsed() - flashed).as_secs_f64());
    println!("attach, flash, read back, start: {} ms", flashed.as_millis());
    println!("cellar, eight sensors: {rig_s:.0} s of rig time in {wall_s:.1} s, {:.0} x real time", rig_s / wall_s);
    assert!(rig_s >= wall_s, "slower than real time");
}

/// The chip's own time, with the looks of a debug probe.
#[derive(Clone)]
struct ChipTime(Rc<EmulatedMcu<()>>);

impl TimeSource for ChipTime {
    fn now(&self) -> Duration {
        Duration::from_nanos(self.0.now_ns().expect("the chip runs"))
    }

    fn pause(&self) {
        self.0.run_for_ns(LOOK_NS).expect("the chip runs");
    }
}

/// A request that leaves the line alone, there and back.
fn round_trips() {
    let build = || Ok::<_, Infallible>((VirtualLine::new(LineConfig::default(), 1).expect("the usual line"), ()));
    let config = ChipConfig::new(1, Wiring::data_only(PinName::new(Port::B, 6)));
    let time = ChipTime(Rc::new(EmulatedMcu::start(config, build).expect("it starts")));
    let image = packed_image(CHIP_NAME).expect("it is packed");
    let mut attached = attach(time.0.debug_probe(), CHIP_NAME, None).expect("it is there");
    bring_up(&mut attached, &image, &mut SilentListener).expect("it can be flashed");
    let carrier = open_rtt(attached, &image, time.clone()).expect("it comes up");
    let mut link = Link::open(Box::new(carrier), 1).expect("it answers");
    let (began, chip) = (Instant::now(), time.now());
    for _ in 0..REQUESTS {
        link.ask(&Request::Look, Duration::ZERO).expect("it answers");
    }
    let (wall, chip) = (began.elapsed() / REQUESTS, (time.now() - chip) / REQUESTS);
    println!(
        "round trip of a request through the memory of the chip: {} us of the chip's time, {} us of this machine's",
        chip.as_micros(),
        wall.as_micros()
    );
}
