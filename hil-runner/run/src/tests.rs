//! Runs on an ideal rig that can be made to lie and to fail.

use slotwise::thermometer::{AlarmLimits, Doubt, Resolution};

use super::*;
use crate::judge::Judge;
use slotwise_bench::ideal::{IdealBench, rig, rom};
use slotwise_record::Start;
use slotwise_record::{Check, Ruling, Verdict};
use slotwise_record::{Record, Recorder, RunOutcome, StepData, StepOutcome, StepRecord};
use slotwise_rig::Rig;
use slotwise_rig::reply::BridgeRecord;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Fault, FaultKind};
use slotwise_scenario::{Action, Bound, Convert, Expectation, Measure, Proof, Reference, Save, Scenario, Step, Values};
use slotwise_terms::FailureKind;
use slotwise_terms::Stop;

fn step(action: Action) -> Step {
    Step { label: "a step".into(), line: 1, action }
}

fn scenario(actions: Vec<Action>) -> Scenario {
    Scenario {
        name: "test".into(),
        source: "<test>".into(),
        cautions: Vec::new(),
        steps: actions.into_iter().map(step).collect(),
    }
}

pub(super) fn find(expect: &[usize]) -> Action {
    Action::Find { times: 3, expect: expect.to_vec(), fails: Vec::new() }
}

pub(super) fn measure(expect: Vec<Expectation>) -> Action {
    Action::Measure(Measure {
        sensors: vec![0, 1, 2],
        convert: Convert::Together,
        proof: Proof::Each,
        values: Values::AsRead,
        expect,
    })
}

pub(super) fn near_rig() -> Vec<Expectation> {
    vec![Expectation::Near { reference: Reference::Rig, tolerance_millicelsius: 500 }]
}

/// Runs `actions` on a rig of three sensors, after `prepare` has done what it likes to the bench.
pub(super) fn run(actions: Vec<Action>, prepare: impl FnOnce(&mut IdealBench, &Stop)) -> Record {
    run_on(&rig(3), actions, prepare)
}

pub(super) fn run_on(rig: &Rig, actions: Vec<Action>, prepare: impl FnOnce(&mut IdealBench, &Stop)) -> Record {
    let scenario = scenario(actions);
    let judge = Judge::new().unwrap();
    let stop = Stop::new();
    let mut bench = IdealBench::new(rig);
    prepare(&mut bench, &stop);
    let start = Start {
        rig,
        scenario: &scenario,
        seed: 7,
        driver: slotwise_bench::Bench::driver(&bench),
        bridge: BridgeRecord::default(),
    };
    let mut recorder = Recorder::new(&start, chrono::DateTime::UNIX_EPOCH);
    let order = Order { rig, scenario: &scenario, seed: 7, judge: &judge };
    let end = execute(order, &mut bench, &stop, &mut recorder);
    let record = recorder.into_record();
    assert_eq!(record.end, end);
    assert_eq!(record.steps.len(), scenario.steps.len(), "every step is listed, done or not");
    record
}

pub(super) fn outcomes(record: &Record) -> Vec<StepOutcome> {
    record.steps.iter().map(|step| step.outcome).collect()
}

/// The names in the verdicts that are not met.
pub(super) fn blamed(step: &StepRecord) -> Vec<String> {
    let against = step.verdicts.iter().filter(|verdict| verdict.ruling != Ruling::Met);
    against.map(|verdict| verdict.sensor.as_ref().map_or("the line".into(), ToString::to_string)).collect()
}

#[test]
fn an_honest_rig_passes_every_kind_of_step() {
    let limits = AlarmLimits { low: -5, high: 30 };
    let record = run(
        vec![
            find(&[0, 1, 2]),
            Action::Configure {
                sensors: vec![0, 1, 2],
                resolution: Some(Resolution::Bits10),
                alarm: Some(limits),
                save: Save::IfChanged,
                fails: Vec::new(),
            },
            measure(vec![Expectation::InTime, Expectation::Quantised, Expectation::Agree { within_millicelsius: 500 }]),
            Action::Ambient { sensors: vec![1], to_millicelsius: 12_500 },
            measure(near_rig()),
            Action::AlarmSearch { expect: Vec::new() },
            Action::Wait { ms: 3_600_000 },
            Action::PowerCycle { off_ms: 500 },
            Action::Measure(Measure {
                sensors: vec![0],
                convert: Convert::Not,
                proof: Proof::Each,
                values: Values::AsRead,
                expect: vec![Expectation::Doubt(Doubt::PowerOnValue)],
            }),
        ],
        |bench, _| bench.conversion_us = 180_000,
    );
    assert!(outcomes(&record).iter().all(|outcome| *outcome == StepOutcome::Passed), "{:#?}", record.steps);
    assert_eq!(record.end.outcome, RunOutcome::Passed);
    assert!(record.end.at_ns > 3_600_000_000_000);
}

#[test]
fn a_missing_sensor_fails_by_name_and_the_run_goes_on() {
    let rig = rig(3);
    let record = run(vec![find(&[0, 1, 2]), measure(near_rig())], |bench, _| bench.missing = vec![1]);
    assert_eq!(outcomes(&record), [StepOutcome::Failed, StepOutcome::Failed]);
    let name = format!("shelf 2 ({})", rig.inventory[1].rom);
    assert_eq!(blamed(&record.steps[0]), [name.as_str()]);
    assert_eq!(blamed(&record.steps[1]), [name.as_str()]);
    assert_eq!(record.end.outcome, RunOutcome::Failed);
}

#[test]
fn a_missing_sensor_asked_to_convert_alone_is_said_to_be_missing() {
    let alone = |expect| {
        Action::Measure(Measure {
            sensors: vec![1],
            convert: Convert::OneByOne,
            proof: Proof::Each,
            values: Values::AsRead,
            expect,
        })
    };
    let fails = |kind| alone(vec![Expectation::Fails(vec![kind])]);
    let actions = vec![fails(FailureKind::NoAnswer), fails(FailureKind::NotStarted), alone(Vec::new())];
    let record = run(actions, |bench, _| bench.missing = vec![1]);
    assert_eq!(outcomes(&record), [StepOutcome::Passed, StepOutcome::Passed, StepOutcome::Failed]);
    assert!(record.steps[2].verdicts[0].got.contains("not on the line"), "{:?}", record.steps[2].verdicts);
}

#[test]
fn an_extra_sensor_fails_by_its_rom_code() {
    let record = run(vec![find(&[0, 1, 2])], |bench, _| bench.extra = vec![rom(99)]);
    assert_eq!(blamed(&record.steps[0]), [format!("{}, not in the inventory", rom(99))]);
}

#[test]
fn a_driver_that_says_another_number_fails() {
    let record = run(vec![measure(Vec::new())], |bench, _| {
        bench.said_16.insert(2, 321);
    });
    assert_eq!(record.end.outcome, RunOutcome::Failed);
    let verdict = record.steps[0].verdicts.iter().find(|verdict| !verdict.is_met()).unwrap();
    assert_eq!((verdict.check, &*verdict.expected, &*verdict.got), (Check::Number, "20 degC", "20.0625 degC"));
}

#[test]
fn a_doubt_out_of_thin_air_fails() {
    let record = run(vec![measure(Vec::new())], |bench, _| {
        let mut doubts = slotwise::thermometer::Doubts::NONE;
        doubts.insert(Doubt::ReservedBytes);
        bench.said_doubts = Some(doubts);
    });
    assert_eq!(blamed(&record.steps[0]).len(), 3);
}

#[test]
fn a_stale_number_fails_against_the_rig_s_own_knowledge() {
    let warmer = Action::Ambient { sensors: vec![0, 1, 2], to_millicelsius: 25_000 };
    let honest = run(vec![warmer.clone(), measure(near_rig())], |_, _| {});
    assert_eq!(honest.end.outcome, RunOutcome::Passed);
    let stale = run(vec![measure(Vec::new()), warmer, measure(near_rig())], |bench, _| bench.stale = true);
    assert_eq!(outcomes(&stale)[2], StepOutcome::Failed);
}

#[test]
fn a_write_that_goes_nowhere_is_seen_in_the_bytes() {
    let configure = |fails: Vec<FailureKind>| Action::Configure {
        sensors: vec![0],
        resolution: Some(Resolution::Bits9),
        alarm: None,
        save: Save::No,
        fails,
    };
    let record = run(vec![configure(Vec::new())], |bench, _| bench.ignores_writes = true);
    assert_eq!(outcomes(&record), [StepOutcome::Failed]);
    // A write that succeeds where it must fail is a failure too.
    let record = run(vec![configure(vec![FailureKind::NotTaken])], |_, _| {});
    assert_eq!(outcomes(&record), [StepOutcome::Failed]);
}

#[test]
fn an_eeprom_that_had_to_be_written_fails_where_nothing_may_differ() {
    let configure = |save| Action::Configure {
        sensors: vec![0],
        resolution: Some(Resolution::Bits9),
        alarm: None,
        save,
        fails: Vec::new(),
    };
    let record = run(vec![configure(Save::IfChanged), configure(Save::Unchanged)], |_, _| {});
    assert_eq!(outcomes(&record), [StepOutcome::Passed, StepOutcome::Passed]);
    let record = run(vec![configure(Save::Unchanged)], |_, _| {});
    assert_eq!(outcomes(&record), [StepOutcome::Failed]);
}

#[test]
fn alarms_are_compared_with_those_expected() {
    let alarm = |expect: &[usize]| Action::AlarmSearch { expect: expect.to_vec() };
    let record = run(vec![alarm(&[2]), alarm(&[0, 2]), alarm(&[])], |bench, _| bench.alarms = vec![2]);
    assert_eq!(outcomes(&record), [StepOutcome::Passed, StepOutcome::Failed, StepOutcome::Failed]);
}

pub(super) fn lasting(kind: FailureKind) -> Option<(u32, Trouble)> {
    Some((u32::MAX, Trouble::failed(kind, "the driver's words")))
}

#[test]
fn a_broken_line_ends_the_run_and_is_no_failed_expectation() {
    for kind in [FailureKind::NoPresence, FailureKind::StuckLow, FailureKind::NeverIdleHigh] {
        let record = run(vec![find(&[0, 1, 2]), measure(near_rig())], |bench, _| bench.trouble = lasting(kind));
        assert_eq!(outcomes(&record), [StepOutcome::Broken, StepOutcome::NotRun]);
        assert!(record.steps.iter().all(|step| step.verdicts.is_empty()), "{:#?}", record.steps);
        assert_eq!(record.end.outcome, RunOutcome::Broken);
        let breakage = record.end.breakage.unwrap();
        assert_eq!((breakage.step, breakage.kind, &*breakage.text), (vec![1], Some(kind), "the driver's words"));
        assert_eq!(record.steps[1].reason.as_deref(), Some("the rig is broken: the driver's words"));
    }
}

#[test]
fn a_lost_link_breaks_the_rig_whatever_was_injected() {
    let record = run(vec![Action::Inject(Fault::Open), measure(Vec::new())], |bench, _| {
        bench.trouble = Some((1, Trouble::Link { text: "unplugged".into() }));
    });
    assert_eq!(outcomes(&record), [StepOutcome::Passed, StepOutcome::Broken]);
}

#[test]
fn a_line_that_the_scenario_broke_is_a_failed_expectation() {
    let short = Action::Inject(Fault::Short { ohm: 1 });
    let fails = vec![Expectation::Fails(vec![FailureKind::StuckLow])];
    let prepare = |bench: &mut IdealBench, _: &Stop| bench.trouble = lasting(FailureKind::StuckLow);
    let record = run(vec![short.clone(), measure(fails), find(&[0])], prepare);
    assert_eq!(outcomes(&record), [StepOutcome::Passed, StepOutcome::Passed, StepOutcome::Failed]);
    // Once it is mended, the same failure is the rig's.
    let record = run(vec![short, Action::Clear(FaultKind::Short), find(&[0])], prepare);
    assert_eq!(outcomes(&record)[2], StepOutcome::Broken);
}

#[test]
fn an_expected_failure_of_the_line_needs_no_injected_fault() {
    let fails = Action::Find { times: 2, expect: Vec::new(), fails: vec![FailureKind::NeverIdleHigh] };
    let record = run(vec![fails.clone()], |bench, _| bench.trouble = lasting(FailureKind::NeverIdleHigh));
    assert_eq!(outcomes(&record), [StepOutcome::Passed]);
    let record = run(vec![fails], |_, _| {});
    assert_eq!(outcomes(&record), [StepOutcome::Failed]);
}

#[test]
fn a_glitch_of_the_line_is_a_failed_expectation_and_no_broken_rig() {
    let glitch = Some((1, Trouble::failed(FailureKind::NeverIdleHigh, "a glitch")));
    let record = run(vec![find(&[0, 1, 2]), find(&[0, 1, 2])], |bench, _| bench.trouble = glitch);
    assert_eq!(outcomes(&record), [StepOutcome::Failed, StepOutcome::Passed]);
    assert_eq!(record.steps[0].verdicts[0].got, "1 of 3 searches otherwise: a glitch");
}

#[test]
fn an_empty_line_is_right_where_no_sensor_is_expected() {
    let off = Action::Inject(Fault::Unplug(vec![0, 1, 2]));
    let record = run(vec![off, find(&[]), Action::Clear(FaultKind::Unplug), find(&[0, 1, 2])], |_, _| {});
    assert_eq!(record.end.outcome, RunOutcome::Passed, "{:#?}", record.steps);
}

#[test]
fn what_a_rig_cannot_do_is_never_passed() {
    let actions = vec![
        Action::PowerCycle { off_ms: 1 },
        measure(near_rig()),
        Action::Ambient { sensors: vec![0], to_millicelsius: 1 },
        Action::Inject(Fault::Open),
        find(&[0, 1, 2]),
    ];
    let record = run(actions, |bench, _| bench.bare = true);
    let not_possible = StepOutcome::NotPossible;
    assert_eq!(outcomes(&record), [not_possible, not_possible, not_possible, not_possible, StepOutcome::Passed]);
    assert_eq!(record.end.outcome, RunOutcome::Incomplete);
    assert_eq!(record.steps[0].reason.as_deref(), Some("not possible on this rig: taking hold of the rig"));
}

pub(super) fn repeat(bound: Bound, max_failures_ppm: u32, actions: Vec<Action>) -> Action {
    Action::Repeat { bound, max_failures_ppm, steps: actions.into_iter().map(step).collect() }
}

#[track_caller]
fn rounds(step: &StepRecord) -> (u32, u32, &Verdict) {
    let StepData::Rounds(rounds) = &step.data else { panic!("no rounds: {:?}", step.data) };
    (rounds.begun, rounds.failed, step.verdicts.last().expect("a verdict on the rounds"))
}

#[test]
fn failures_are_held_against_their_bound_exactly() {
    // Each search is one request, each supply another: the second round's first search glitches.
    let glitch = |bench: &mut IdealBench, _: &Stop| {
        bench.trouble = Some((1, Trouble::failed(FailureKind::Disturbed, "a glitch")));
    };
    let twenty = |ppm| vec![repeat(Bound::Times(20), ppm, vec![find(&[0, 1, 2])])];
    let record = run(twenty(50_000), glitch);
    let (begun, failed, verdict) = rounds(&record.steps[0]);
    assert_eq!((begun, failed, verdict.ruling), (20, 1, Ruling::Met));
    assert_eq!(verdict.expected, "at most 5 % of the rounds fail");
    let record = run(twenty(49_999), glitch);
    assert_eq!(record.end.outcome, RunOutcome::Failed);
    assert_eq!(rounds(&record.steps[0]).2.got, "1 of 20 rounds failed (5 %)");
}

#[test]
fn a_repetition_by_time_ends_with_the_round_in_which_the_time_is_over() {
    let record = run(vec![repeat(Bound::ForMs(2_000), 0, vec![Action::Wait { ms: 600 }])], |_, _| {});
    assert_eq!(rounds(&record.steps[0]).0, 4);
}

#[test]
fn a_repetition_in_which_no_time_passes_fails_instead_of_hanging() {
    let record = run(
        vec![repeat(Bound::ForMs(1), 0, vec![Action::Ambient { sensors: vec![0], to_millicelsius: 0 }])],
        |_, _| {},
    );
    assert_eq!(outcomes(&record), [StepOutcome::Failed]);
    assert_eq!(record.steps[0].verdicts[0].got, "a round in which no time of the rig passes");
}

#[test]
fn a_rig_that_breaks_in_a_round_ends_the_run() {
    let record = run(vec![repeat(Bound::Times(5), 1_000_000, vec![find(&[0])]), find(&[0])], |bench, _| {
        bench.trouble = lasting(FailureKind::NoPresence);
    });
    assert_eq!(outcomes(&record), [StepOutcome::Broken, StepOutcome::NotRun]);
    let StepData::Rounds(rounds) = &record.steps[0].data else { panic!() };
    assert_eq!((rounds.begun, rounds.kept[0].outcome), (1, StepOutcome::Broken));
    assert_eq!(record.end.breakage.as_ref().unwrap().step, [1, 1]);
}

#[test]
fn a_stopped_run_keeps_what_was_done_and_lists_what_was_not() {
    let record = run(vec![measure(near_rig()), measure(near_rig()), find(&[0, 1, 2])], |bench, stop| {
        // Supply, a conversion that is timed, three starts, a wait and three readings of two scratchpads each are one step; then supply,
        // three starts, a wait and one reading.
        bench.stop_after = Some((12 + 6, stop.clone()));
    });
    assert_eq!(outcomes(&record), [StepOutcome::Passed, StepOutcome::Interrupted, StepOutcome::NotRun]);
    let StepData::Readings { readings, .. } = &record.steps[1].data else { panic!() };
    assert_eq!(readings.len(), 1);
    assert_eq!(record.end.outcome, RunOutcome::Interrupted);
    assert_eq!(record.steps[2].reason.as_deref(), Some("the run was interrupted"));
}

#[test]
fn a_run_stopped_in_a_round_keeps_the_rounds_before() {
    let soak = repeat(Bound::Times(100_000), 0, vec![find(&[0, 1, 2]), Action::Wait { ms: 1 }]);
    let record = run(vec![soak], |bench, stop| bench.stop_after = Some((100, stop.clone())));
    assert_eq!(outcomes(&record), [StepOutcome::Interrupted]);
    let StepData::Rounds(rounds) = &record.steps[0].data else { panic!() };
    // Six requests a round.
    assert_eq!((rounds.begun, rounds.kept.len()), (17, 17));
    assert_eq!(rounds.kept[16].outcome, StepOutcome::Interrupted);
}

#[test]
fn a_failure_before_the_stop_stays_in_the_record() {
    let record = run(vec![find(&[0, 1, 2]), measure(near_rig())], |bench, stop| {
        bench.missing = vec![0];
        bench.stop_after = Some((4, stop.clone()));
    });
    assert_eq!(outcomes(&record), [StepOutcome::Failed, StepOutcome::NotRun]);
    assert_eq!(record.end.outcome, RunOutcome::Interrupted);
}

#[test]
fn a_skipped_run_lists_its_steps() {
    let (rig, scenario) = (rig(1), scenario(vec![find(&[0]), find(&[0])]));
    let driver = slotwise_bench::Bench::driver(&IdealBench::new(&rig));
    let start = Start { rig: &rig, scenario: &scenario, seed: 1, driver, bridge: BridgeRecord::default() };
    let mut recorder = Recorder::new(&start, chrono::DateTime::UNIX_EPOCH);
    skip(&start, "the rig is broken", &mut recorder);
    assert_eq!(outcomes(&recorder.into_record()), [StepOutcome::NotRun, StepOutcome::NotRun]);
}

#[test]
fn a_bound_on_failures_forgives_what_is_lost_and_nothing_that_is_wrong() {
    let rounds_of = |prepare: fn(&mut IdealBench, &Stop), inner: Vec<Action>| {
        let record = run(vec![repeat(Bound::Times(4), 990_000, inner)], prepare);
        (outcomes(&record)[0], record)
    };
    // One of four rounds is lost.
    let glitch = |bench: &mut IdealBench, _: &Stop| {
        bench.trouble = Some((3, Trouble::failed(FailureKind::Disturbed, "a glitch")));
    };
    assert_eq!(rounds_of(glitch, vec![measure(near_rig())]).0, StepOutcome::Passed);
    // A number that is wrong, in every round.
    let lie = |bench: &mut IdealBench, _: &Stop| {
        bench.said_16.insert(1, 321);
    };
    let (outcome, record) = rounds_of(lie, vec![Action::Wait { ms: 1 }, measure(Vec::new())]);
    assert_eq!((outcome, record.end.outcome), (StepOutcome::Failed, RunOutcome::Failed));
    let wrong: Vec<&Verdict> = record.steps[0].verdicts.iter().filter(|verdict| !verdict.is_met()).collect();
    let expected = format!(
        "something wrong in 4 of 4 rounds, first in round 1, step 1.2: shelf 2 ({}), expected 20 degC, got 20.0625 degC",
        rom(2)
    );
    assert_eq!(wrong[0].got, expected);
    // The same inside a repetition inside this one.
    let (outcome, record) = rounds_of(lie, vec![repeat(Bound::Times(2), 990_000, vec![measure(Vec::new())])]);
    assert_eq!(outcome, StepOutcome::Failed, "{:?}", record.steps[0].verdicts);
    // A stranger on the line, and settings that did not take without an error.
    let stranger = |bench: &mut IdealBench, _: &Stop| bench.extra = vec![rom(9)];
    assert_eq!(rounds_of(stranger, vec![find(&[0, 1, 2])]).0, StepOutcome::Failed);
    let configure = Action::Configure {
        sensors: vec![0],
        resolution: Some(Resolution::Bits9),
        alarm: None,
        save: Save::No,
        fails: Vec::new(),
    };
    let deaf = |bench: &mut IdealBench, _: &Stop| bench.ignores_writes = true;
    assert_eq!(rounds_of(deaf, vec![configure]).0, StepOutcome::Failed);
}

#[test]
fn too_much_lost_inside_is_a_round_lost_outside() {
    let glitch = |bench: &mut IdealBench, _: &Stop| {
        // What fails three times in a row is no longer tried again.
        bench.trouble = Some((3, Trouble::failed(FailureKind::Disturbed, "a glitch")));
    };
    let inner = repeat(Bound::Times(2), 0, vec![measure(near_rig())]);
    let record = run(vec![repeat(Bound::Times(2), 500_000, vec![inner.clone()])], glitch);
    assert_eq!(outcomes(&record), [StepOutcome::Passed], "{:?}", record.steps[0].verdicts);
    let record = run(vec![repeat(Bound::Times(2), 0, vec![inner])], glitch);
    assert_eq!(outcomes(&record), [StepOutcome::Failed]);
}
