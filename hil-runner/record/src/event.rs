//! What happens in a run, as it happens.

use super::{ReadingRecord, RunEnd, StepRecord};
use slotwise_rig::Rig;
use slotwise_rig::reply::{BridgeRecord, Driver, LogRecord};
use slotwise_scenario::Scenario;

/// The start of a run: all that is known before the first step.
#[derive(Clone, Debug)]
pub struct Start<'a> {
    /// The rig.
    pub rig: &'a Rig,
    /// The scenario.
    pub scenario: &'a Scenario,
    /// Seed of all randomness.
    pub seed: u64,
    /// The driver under test.
    pub driver: Driver,
    /// The bridge it runs on.
    pub bridge: BridgeRecord,
}

/// One thing that happened.
#[derive(Clone, Debug)]
pub enum Event<'a> {
    /// The run begins.
    RunStarted(&'a Start<'a>),
    /// Something to beware of before a step begins.
    Caution {
        /// Its place.
        place: &'a [u32],
        /// What.
        text: &'a str,
    },
    /// A step begins.
    StepStarted {
        /// Its place, from 1; longer than one inside a repetition.
        place: &'a [u32],
        /// What the scenario calls it.
        label: &'a str,
    },
    /// A step that takes long has come so far.
    Progress {
        /// Its place.
        place: &'a [u32],
        /// How far.
        progress: Progress,
    },
    /// A sensor was read, or should have been.
    Reading {
        /// Place of the step.
        place: &'a [u32],
        /// What came of it.
        reading: &'a ReadingRecord,
    },
    /// A step ended, or will not be done.
    StepFinished(&'a StepRecord),
    /// The firmware logged a line.
    Logged(&'a LogRecord),
    /// The run ended.
    RunFinished(&'a RunEnd),
}

/// How far a step has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    /// By number of searches, sensors or rounds.
    Count {
        /// Done.
        done: u64,
        /// To do.
        total: u64,
    },
    /// By the time of the rig.
    RigTime {
        /// Passed.
        passed_ms: u64,
        /// To pass.
        total_ms: u64,
    },
}

/// One who wants to know what happens.
pub trait Listener {
    /// Takes note of an event.
    fn notice(&mut self, event: &Event<'_>);
}

/// Several listeners; each event goes to them in this order.
pub struct Listeners<'a>(pub Vec<&'a mut dyn Listener>);

impl Listener for Listeners<'_> {
    fn notice(&mut self, event: &Event<'_>) {
        for listener in &mut self.0 {
            listener.notice(event);
        }
    }
}
