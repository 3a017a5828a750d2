//! The steps of a scenario, one after the other, and what becomes of each.

use super::halt::Halt;
use super::own_line::{OwnLine, provokes};
use super::thinning::Room;
use crate::fresh::Memory;
use crate::judge::Judge;
use slotwise_bench::{Bench, Pace};
use slotwise_record::{Breakage, RunEnd, RunOutcome, StepData, StepOutcome, StepRecord};
use slotwise_record::{Event, Listener, Start};
use slotwise_record::{Ruling, Verdict};
use slotwise_rig::Rig;
use slotwise_rig::reply::{HOST_LEVEL, LinkRecord, LogRecord};
use slotwise_rig::{Fault, FaultKind};
use slotwise_scenario::{Action, Scenario, Step};
use slotwise_terms::Stop;

/// What is to be done.
#[derive(Clone, Copy, Debug)]
pub struct Order<'a> {
    /// The rig that the bench is made of.
    pub rig: &'a Rig,
    /// The scenario, checked against that rig.
    pub scenario: &'a Scenario,
    /// Seed that the bench was made with.
    pub seed: u64,
    /// Who judges.
    pub judge: &'a Judge,
}

/// A run under way.
pub(super) struct Executor<'a> {
    pub(super) rig: &'a Rig,
    pub(super) judge: &'a Judge,
    pub(super) bench: &'a mut dyn Bench,
    pub(super) stop: &'a Stop,
    pub(super) listener: &'a mut dyn Listener,
    /// Faults that the scenario has injected and not cleared.
    pub(super) faults: Vec<Fault>,
    /// Place of the step that is being done.
    pub(super) place: Vec<u32>,
    /// Room in the record for the repetitions among the steps that are being done.
    pub(super) room: Room,
    /// What is known of the sensors from measurements before.
    pub(super) memory: Memory,
    pub(super) own_line: OwnLine,
}

/// What a step has brought to light so far. It stays if the step is left early.
#[derive(Debug, Default)]
pub(super) struct Findings {
    pub(super) data: StepData,
    pub(super) verdicts: Vec<Verdict>,
}

/// Runs a scenario to its end, or to where it is stopped. Every step ends in an event, done or not.
pub fn execute(order: Order<'_>, bench: &mut dyn Bench, stop: &Stop, listener: &mut dyn Listener) -> RunEnd {
    let Order { rig, scenario, seed, judge } = order;
    let ended = stop.clone();
    bench.end_when(Box::new(move || ended.is_raised()));
    let (driver, bridge) = (bench.driver(), bench.bridge());
    listener.notice(&Event::RunStarted(&Start { rig, scenario, seed, driver, bridge }));
    let room = Room::of(rig, scenario);
    let memory = Memory::of(rig);
    let mut executor = Executor {
        rig,
        judge,
        bench,
        stop,
        listener,
        faults: Vec::new(),
        place: Vec::new(),
        room,
        memory,
        own_line: OwnLine::default(),
    };
    let (steps, halt) = executor.steps(&scenario.steps);
    executor.tidy_up();
    let at_ns = executor.bench.now_ns();
    let (outcome, breakage) = sum_up(&steps, halt);
    let edges = executor.bench.take_edges();
    let capture = executor.judge_own_line();
    let is_violated = edges.as_ref().is_some_and(|edges| edges.violated > 0)
        || capture.as_ref().is_some_and(|capture| !capture.objections.is_empty());
    let outcome = match outcome {
        // Whatever the sensors made of it: such a firmware is not to be trusted.
        RunOutcome::Passed | RunOutcome::Incomplete if is_violated => RunOutcome::Failed,
        RunOutcome::Passed if capture.as_ref().is_some_and(|capture| !capture.not_judged.is_empty()) => {
            RunOutcome::Incomplete
        }
        other => other,
    };
    let end =
        RunEnd { outcome, at_ns, breakage, link: executor.bench.link(), edges, port: executor.bench.port(), capture };
    listener.notice(&Event::RunFinished(&end));
    end
}

/// Reports a run that does not take place, with every step as not run.
pub fn skip(start: &Start<'_>, reason: &str, listener: &mut dyn Listener) -> RunEnd {
    without_steps(start, reason, (RunOutcome::Interrupted, None), listener)
}

/// Reports a run whose rig could not be made ready, with the cause.
pub fn never_began(start: &Start<'_>, why: &str, listener: &mut dyn Listener) -> RunEnd {
    let breakage = Breakage { step: Vec::new(), kind: None, text: why.into() };
    without_steps(start, "the rig could not be made ready", (RunOutcome::Broken, Some(breakage)), listener)
}

fn without_steps(
    start: &Start<'_>,
    reason: &str,
    (outcome, breakage): (RunOutcome, Option<Breakage>),
    listener: &mut dyn Listener,
) -> RunEnd {
    listener.notice(&Event::RunStarted(start));
    for (step, number) in start.scenario.steps.iter().zip(1..) {
        listener.notice(&Event::StepFinished(&not_run(step, vec![number], reason, 0)));
    }
    let end =
        RunEnd { outcome, at_ns: 0, breakage, link: LinkRecord::default(), edges: None, port: None, capture: None };
    listener.notice(&Event::RunFinished(&end));
    end
}

/// The outcome of a run, from the outcomes of its steps and what ended it.
fn sum_up(steps: &[StepRecord], halt: Option<Halt>) -> (RunOutcome, Option<Breakage>) {
    let any = |outcome| steps.iter().any(|step| step.outcome == outcome);
    match halt {
        Some(Halt::Broken(breakage)) => (RunOutcome::Broken, Some(breakage)),
        Some(Halt::Interrupted) => (RunOutcome::Interrupted, None),
        Some(Halt::NotPossible(_)) | None if any(StepOutcome::Failed) => (RunOutcome::Failed, None),
        Some(Halt::NotPossible(_)) | None if any(StepOutcome::NotPossible) => (RunOutcome::Incomplete, None),
        Some(Halt::NotPossible(_)) | None => (RunOutcome::Passed, None),
    }
}

fn not_run(step: &Step, place: Vec<u32>, reason: &str, now_ns: u64) -> StepRecord {
    StepRecord {
        place,
        label: step.label.clone(),
        line: step.line,
        outcome: StepOutcome::NotRun,
        cautions: Vec::new(),
        reason: Some(reason.into()),
        started_ns: now_ns,
        ended_ns: now_ns,
        data: StepData::Nothing,
        line_report: None,
        verdicts: Vec::new(),
    }
}

impl Executor<'_> {
    /// Takes faults off a real line that the scenario has left there: the next run, or the next person, does not expect them. A
    /// virtual line ends with the run.
    fn tidy_up(&mut self) {
        if self.bench.pace() == Pace::Virtual {
            return;
        }
        let left: Vec<FaultKind> = self.faults.drain(..).map(|fault| fault.kind()).collect();
        for kind in left {
            if let Err(trouble) = self.bench.clear(kind) {
                let text = format!("a fault that the scenario injected is still there ({kind:?}): {trouble}");
                let line = LogRecord { at_ns: self.bench.now_ns(), level: HOST_LEVEL.into(), text };
                self.listener.notice(&Event::Logged(&line));
            }
        }
    }

    /// Does steps in order, until one breaks the rig or the user wants to end; the rest is then listed as not run.
    pub(super) fn steps(&mut self, steps: &[Step]) -> (Vec<StepRecord>, Option<Halt>) {
        let mut records = Vec::with_capacity(steps.len());
        let mut ended = None;
        for (step, number) in steps.iter().zip(1..) {
            self.place.push(number);
            let stop = self.go_on().err();
            let record = match ended.as_ref().or(stop.as_ref()) {
                Some(halt) => {
                    let record = not_run(step, self.place.clone(), &halt.to_string(), self.bench.now_ns());
                    ended = ended.or(stop);
                    record
                }
                None => {
                    let (record, halt) = self.step(step);
                    ended = halt.filter(|halt| !matches!(halt, Halt::NotPossible(_)));
                    record
                }
            };
            self.listener.notice(&Event::StepFinished(&record));
            records.push(record);
            self.place.pop();
        }
        (records, ended)
    }

    fn step(&mut self, step: &Step) -> (StepRecord, Option<Halt>) {
        let started_ns = self.bench.now_ns();
        let cautions = self.cautions(&step.action);
        let warned = self.warn(&cautions);
        self.listener.notice(&Event::StepStarted { place: &self.place, label: &step.label });
        let mut findings = Findings::default();
        let is_quiet = self.faults.is_empty() && !provokes(&step.action);
        self.own_line.open(is_quiet.then_some(started_ns));
        let halt = warned.and_then(|()| self.act(&step.action, &mut findings)).err();
        for line in self.bench.take_logs() {
            self.listener.notice(&Event::Logged(&line));
        }
        let Findings { data, verdicts } = findings;
        let (outcome, reason) = weigh(&verdicts, halt.as_ref());
        let line_report = self.bench.take_line();
        self.note_line(&step.action, is_quiet && halt.is_none());
        let record = StepRecord {
            place: self.place.clone(),
            label: step.label.clone(),
            line: step.line,
            outcome,
            cautions,
            reason,
            started_ns,
            ended_ns: self.bench.now_ns(),
            data,
            line_report,
            verdicts,
        };
        (record, halt)
    }

    fn act(&mut self, action: &Action, findings: &mut Findings) -> Result<(), Halt> {
        match action {
            Action::Find { times, expect, fails } => self.find(*times, expect, fails, findings),
            Action::AlarmSearch { expect } => self.alarm_search(expect, findings),
            Action::Configure { .. } => self.configure(action, findings),
            Action::Holds { sensors, resolution, alarm } => self.holds(sensors, (*resolution, *alarm), findings),
            Action::Measure(measure) => self.measure(measure, findings),
            Action::FixedPoint(check) => self.fixed_point(check, findings),
            Action::PowerCycle { off_ms } => self.power_cycle(*off_ms),
            Action::Ambient { sensors, to_millicelsius } => self.ambient(sensors, *to_millicelsius),
            Action::Inject(fault) => self.inject(fault, findings),
            Action::Clear(kind) => self.clear(*kind, findings),
            Action::Wait { ms } => self.wait(*ms),
            Action::Repeat { bound, max_failures_ppm, steps } => {
                self.repeat(*bound, *max_failures_ppm, steps, findings)
            }
        }
    }
}

/// The outcome of a step, from its verdicts and what ended it.
fn weigh(verdicts: &[Verdict], halt: Option<&Halt>) -> (StepOutcome, Option<String>) {
    let reason = halt.map(ToString::to_string);
    let failed = verdicts.iter().any(|verdict| verdict.ruling == Ruling::NotMet);
    match halt {
        Some(Halt::Broken(_)) => return (StepOutcome::Broken, reason),
        Some(Halt::Interrupted) => return (StepOutcome::Interrupted, reason),
        Some(Halt::NotPossible(_)) if !failed => return (StepOutcome::NotPossible, reason),
        Some(Halt::NotPossible(_)) | None => {}
    }
    if failed {
        return (StepOutcome::Failed, reason);
    }
    match verdicts.iter().find(|verdict| verdict.ruling == Ruling::CannotTell) {
        Some(verdict) => (StepOutcome::NotPossible, Some(verdict.got.clone())),
        None => (StepOutcome::Passed, None),
    }
}
