//! Which faults that a scenario injected excuse a broken line, on an ideal rig.

use super::tests::{find, lasting, measure, outcomes, run};
use slotwise_record::StepOutcome;
use slotwise_rig::Fault;
use slotwise_scenario::{Action, Expectation};
use slotwise_terms::FailureKind;

#[test]
fn a_fault_that_cannot_explain_a_broken_line_does_not_excuse_it() {
    let light_noise = Fault::Noise { per_second: 1, width_us: 1 };
    let heavy_noise = Fault::Noise { per_second: 20_000, width_us: 20 };
    let cases = [
        (Fault::Unplug(vec![0]), FailureKind::StuckLow),
        (Fault::Unplug(vec![0]), FailureKind::NoPresence),
        (Fault::Unplug(vec![0, 1, 2]), FailureKind::StuckLow),
        (light_noise.clone(), FailureKind::StuckLow),
        (light_noise.clone(), FailureKind::NoPresence),
        // The same failure every time is no noise, however heavy that is.
        (heavy_noise.clone(), FailureKind::StuckLow),
        (Fault::Short { ohm: 10 }, FailureKind::NoPresence),
        (Fault::Short { ohm: 1_000_000 }, FailureKind::StuckLow),
        (Fault::Open, FailureKind::StuckLow),
        // It is as strong as the rig's own.
        (Fault::PullUp { ohm: 4_700 }, FailureKind::NeverIdleHigh),
        (Fault::SlowSensor { sensor: 0, permille: 2_000 }, FailureKind::StuckLow),
        (Fault::BitErrors { sensor: 0, ppm: 1_000_000 }, FailureKind::NoPresence),
        (Fault::BrownOut { to_mv: 1_000, ms: 10 }, FailureKind::NoPresence),
    ];
    for (fault, kind) in cases {
        let fails = vec![Expectation::Fails(vec![FailureKind::Crc, kind])];
        for step in [find(&[1, 2]), measure(Vec::new()), measure(fails)] {
            let is_expected = matches!(&step, Action::Measure(measure) if !measure.expect.is_empty());
            if is_expected && matches!(fault, Fault::BrownOut { .. }) {
                // It is over with its step: what is expected then is expected of the rig as it is.
                continue;
            }
            let record = run(vec![Action::Inject(fault.clone()), step], |bench, _| bench.trouble = lasting(kind));
            assert_eq!(outcomes(&record)[1], StepOutcome::Broken, "{fault:?} {kind:?} {:?}", record.steps[1]);
        }
    }
}

#[test]
fn a_fault_that_explains_a_broken_line_is_to_blame() {
    let cases = [
        (vec![Fault::Unplug(vec![0, 1]), Fault::Unplug(vec![2])], FailureKind::NoPresence),
        (vec![Fault::Noise { per_second: 1, width_us: 1 }], FailureKind::Disturbed),
        (vec![Fault::Short { ohm: 10 }], FailureKind::NeverIdleHigh),
        (vec![Fault::Open], FailureKind::NoPresence),
        (vec![Fault::PullUp { ohm: 47_000 }], FailureKind::NeverIdleHigh),
    ];
    for (faults, kind) in cases {
        let mut actions: Vec<Action> = faults.iter().cloned().map(Action::Inject).collect();
        actions.push(measure(Vec::new()));
        let record = run(actions, |bench, _| bench.trouble = lasting(kind));
        assert_eq!(outcomes(&record).last(), Some(&StepOutcome::Failed), "{faults:?} {kind:?}");
    }
}

#[test]
fn a_line_on_which_every_search_fails_is_broken() {
    let kinds = [FailureKind::Disturbed, FailureKind::SearchLost, FailureKind::Crc, FailureKind::AllZeros];
    for kind in kinds {
        let record = run(vec![find(&[0, 1, 2]), find(&[0])], |bench, _| bench.trouble = lasting(kind));
        assert_eq!(outcomes(&record), [StepOutcome::Broken, StepOutcome::NotRun], "{kind:?}");
        assert_eq!(record.end.breakage.unwrap().kind, Some(kind));
    }
    let record = run(vec![measure(Vec::new())], |bench, _| bench.trouble = lasting(FailureKind::Disturbed));
    assert_eq!(outcomes(&record), [StepOutcome::Broken]);
}
