//! Built-in scenarios with their rigs, run in process and on the emulated chip.

// Each test file uses a part of it.
#![allow(dead_code)]

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock};

use chrono::Utc;
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::{Bench, EmulatedChip, Outside, Tracing, open, open_emulated};
use slotwise_record::Start;
use slotwise_record::{Record, Recorder};
use slotwise_rig::{BUILT_IN_RIGS, Rig, RigKind, built_in_rig};
use slotwise_rig::{Fault, FaultKind};
use slotwise_run::judge::Judge;
use slotwise_run::{Order, execute};
use slotwise_scenario::{Action, Scenario, built_in_scenario};
use slotwise_terms::Stop;
use slotwise_virtual_line::InterruptLoad;

/// What the bridge calls its chip.
pub const CHIP: &str = "STM32F103";

/// Scenarios that every run of the tests can afford. The soak is the cellar again for half an hour of the rig's time.
pub fn scenarios() -> [&'static str; 5] {
    ["cellar", "faults", "parasite", "parasite-bare", "twins"]
}

/// A scenario and its rig.
pub struct Setting {
    pub rig: Rig,
    pub scenario: Scenario,
}

impl Setting {
    /// A built-in scenario on the rig that it is for.
    pub fn of(name: &str) -> Self {
        let rig = if BUILT_IN_RIGS.contains(&name) { name } else { BUILT_IN_RIGS[0] };
        let rig = built_in_rig(rig).unwrap();
        let scenario = built_in_scenario(name, &rig).unwrap().unwrap();
        Self { rig, scenario }
    }

    pub fn at_mhz(mut self, mhz: u32) -> Self {
        if let RigKind::Virtual(line) = &mut self.rig.kind {
            line.clock_mhz = mhz;
        }
        self
    }

    /// Takes away what strikes at random moments.
    pub fn without_random_faults(&mut self) {
        let is_random = |kind| matches!(kind, FaultKind::Noise | FaultKind::BitErrors);
        self.scenario.steps.retain(|step| match &step.action {
            Action::Inject(Fault::Noise { .. } | Fault::BitErrors { .. }) | Action::Repeat { .. } => false,
            Action::Clear(kind) => !is_random(*kind),
            _ => true,
        });
    }
}

fn outside(listener: &mut SilentListener) -> Outside<'_> {
    Outside { image: None, listener, operator: None }
}

fn run(setting: &Setting, rig: &Rig, seed: u64, bench: &mut dyn Bench) -> Record {
    let judge = Judge::new().unwrap();
    let scenario = &setting.scenario;
    let start = Start { rig, scenario, seed, driver: bench.driver(), bridge: bench.bridge() };
    let mut recorder = Recorder::new(&start, Utc::now());
    execute(Order { rig, scenario, seed, judge: &judge }, bench, &Stop::new(), &mut recorder);
    recorder.into_record()
}

/// On the virtual rig.
pub fn virtually(setting: &Setting, seed: u64) -> Record {
    let mut bench = open(&setting.rig, seed, Tracing::Off, outside(&mut SilentListener)).unwrap();
    run(setting, &setting.rig, seed, bench.as_mut())
}

/// On the emulated chip.
pub fn on_chip(setting: &Setting, seed: u64) -> Record {
    on_chip_with(setting, seed, EmulatedChip::default())
}

/// On this emulated chip.
pub fn on_chip_with(setting: &Setting, seed: u64, chip: EmulatedChip) -> Record {
    let rig = setting.rig.clone().emulated().unwrap();
    let line = rig.virtual_line().unwrap();
    let opened = open_emulated(&rig, line, (seed, Tracing::Off), chip, outside(&mut SilentListener));
    run(setting, &rig, seed, opened.unwrap().as_mut())
}

/// What each record of [`once_on_chip`] is of: scenario, core clock, interrupts.
type Asked = (&'static str, u32, Option<InterruptLoad>);
type Answers = HashMap<Asked, Arc<OnceLock<Arc<Record>>>>;

/// A built-in scenario on the emulated chip with seed 1, run once for all tests that ask something of it: a run takes seconds.
pub fn once_on_chip(name: &'static str, clock_mhz: u32, load: Option<InterruptLoad>) -> Arc<Record> {
    static RECORDS: Mutex<Option<Answers>> = Mutex::new(None);
    let asked = (name, clock_mhz, load);
    let slot = {
        // A test that fails inside leaves an empty slot, which the next one fills.
        let mut records = RECORDS.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        records.get_or_insert_default().entry(asked).or_default().clone()
    };
    let run = || {
        let chip = EmulatedChip { interrupt_load: load, ..EmulatedChip::default() };
        Arc::new(on_chip_with(&Setting::of(name).at_mhz(clock_mhz), 1, chip))
    };
    slot.get_or_init(run).clone()
}

/// An emulated chip with a session, on the rig of a setting.
pub fn opened(setting: &Setting, chip: EmulatedChip) -> Box<dyn Bench> {
    let rig = setting.rig.clone().emulated().unwrap();
    let line = rig.virtual_line().unwrap();
    open_emulated(&rig, line, (1, Tracing::Off), chip, outside(&mut SilentListener)).unwrap()
}
