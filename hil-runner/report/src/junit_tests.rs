//! Cautions of steps that are repeated, in JUnit XML.

use slotwise_record::{Round, Rounds, StepData, StepOutcome};
use slotwise_run::sample::sample_record;
use slotwise_terms::fixed_point::ICE_BATH;

#[test]
fn a_caution_of_a_repeated_step_stands_once() {
    let mut record = sample_record(0);
    let mut step = record.steps[0].clone();
    step.cautions = vec![ICE_BATH.into()];
    let round = |number| Round { number, outcome: StepOutcome::Passed, steps: vec![step.clone()] };
    record.steps[1].data = StepData::Rounds(Rounds { kept: vec![round(1), round(2)], ..Rounds::default() });
    assert_eq!(super::junit(&record).unwrap().matches("sealed end of a probe lead").count(), 1);
}
