//! Which rounds of a repetition are kept, so that a record stays of bounded size however long a run is, and however much
//! there is in a round.
//!
//! Of the rounds that passed an even selection is kept: when there are too many, every other one goes, and from then on
//! only every second, fourth, eighth ... is taken. Rounds that failed are kept apart from them, the first ones.

use slotwise_record::{Round, Rounds, StepOutcome};
use slotwise_rig::Rig;
use slotwise_scenario::kept::{Least, MAX_ENTRIES, least_rounds};
use slotwise_scenario::{Bound, Scenario, Step};

/// How many rounds are kept of a repetition at the most: passed ones, and as many failed ones.
const KEPT: usize = 512;
/// The same of a repetition inside another one.
const KEPT_INSIDE: usize = 16;

/// The room that repetitions have in the record: how many times the least that must be kept of each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Room(u64);

impl Room {
    /// For the repetitions of a scenario.
    pub(super) fn of(rig: &Rig, scenario: &Scenario) -> Self {
        Self(Least::of(rig, &scenario.steps).times(MAX_ENTRIES))
    }

    /// How many rounds that passed are kept of a repetition, and of those that failed, and the room for repetitions
    /// inside it. `depth` is 1 for an outermost one.
    pub(super) fn share(self, rig: &Rig, depth: usize, bound: Bound, steps: &[Step]) -> (usize, Self) {
        let rounds = self.0.saturating_mul(u64::from(least_rounds(bound)));
        let most = if depth <= 1 { KEPT } else { KEPT_INSIDE };
        // One more is kept: the round in which a run ends.
        let limit = usize::try_from(rounds.saturating_sub(1) / 2).unwrap_or(most).clamp(1, most);
        let kept = 2 * limit as u64 + 1;
        let kept = match bound {
            Bound::Times(times) => kept.min(u64::from(times)),
            Bound::ForMs(_) => kept,
        };
        let least = Least::of(rig, steps);
        let of_one = rounds.saturating_mul(least.round()) / kept.max(1);
        (limit, Self(least.times(of_one.saturating_sub(1))))
    }
}

/// Rounds as they are kept.
#[derive(Debug)]
pub(super) struct Thinning {
    rounds: Rounds,
    limit: usize,
    passed_kept: usize,
    failed_kept: usize,
}

impl Thinning {
    /// Keeps up to `limit` rounds that passed, and as many that failed.
    pub(super) fn new(limit: usize) -> Self {
        let rounds = Rounds { one_kept_in: 1, ..Rounds::default() };
        Self { rounds, limit, passed_kept: 0, failed_kept: 0 }
    }

    pub(super) fn add(&mut self, round: Round) {
        self.rounds.begun += 1;
        if round.outcome == StepOutcome::Passed {
            self.add_passed(round);
        } else {
            self.rounds.failed += u32::from(round.outcome == StepOutcome::Failed);
            self.add_other(round);
        }
    }

    fn add_passed(&mut self, round: Round) {
        if !is_taken(round.number, self.rounds.one_kept_in) {
            return;
        }
        self.rounds.kept.push(round);
        self.passed_kept += 1;
        if self.passed_kept > self.limit {
            self.rounds.one_kept_in *= 2;
            let one_in = self.rounds.one_kept_in;
            self.rounds.kept.retain(|round| round.outcome != StepOutcome::Passed || is_taken(round.number, one_in));
            self.passed_kept = self.rounds.kept.len() - self.failed_kept;
        }
    }

    fn add_other(&mut self, round: Round) {
        // The round in which a run broke or was stopped is its last, and there is only one.
        if self.failed_kept >= self.limit && round.outcome == StepOutcome::Failed {
            self.rounds.failed_not_kept += 1;
            return;
        }
        self.rounds.kept.push(round);
        self.failed_kept += 1;
    }

    /// How many rounds there were.
    pub(super) const fn begun(&self) -> u32 {
        self.rounds.begun
    }

    /// How many of them failed.
    pub(super) const fn failed(&self) -> u32 {
        self.rounds.failed
    }

    pub(super) fn into_rounds(self) -> Rounds {
        self.rounds
    }
}

/// The first round is always taken.
const fn is_taken(number: u32, one_in: u32) -> bool {
    (number - 1).is_multiple_of(one_in)
}

#[cfg(test)]
mod tests {
    use super::*;
    use slotwise_bench::ideal::rig;
    use slotwise_scenario::{Action, Convert, Measure, Proof, Values};

    fn step(action: Action) -> Step {
        Step { label: "a step".into(), line: 1, action }
    }

    /// Steps that measure so many sensors each.
    fn measures(sensors: &[usize]) -> Vec<Step> {
        let measure = |sensors: &usize| Measure {
            sensors: (0..*sensors).collect(),
            convert: Convert::Together,
            proof: Proof::Each,
            values: Values::AsRead,
            expect: Vec::new(),
        };
        sensors.iter().map(|sensors| step(Action::Measure(measure(sensors)))).collect()
    }

    fn repeat(times: u32, steps: Vec<Step>) -> Step {
        step(Action::Repeat { bound: Bound::Times(times), max_failures_ppm: 0, steps })
    }

    fn scenario(steps: Vec<Step>) -> Scenario {
        Scenario { name: "test".into(), source: "<test>".into(), cautions: Vec::new(), steps }
    }

    /// The most entries that these steps can have in a record.
    fn most(rig: &Rig, room: Room, depth: usize, steps: &[Step]) -> u64 {
        let of = |step: &Step| match &step.action {
            Action::Repeat { bound: Bound::Times(times), steps, .. } => {
                let (limit, inside) = room.share(rig, depth, Bound::Times(*times), steps);
                let kept = (2 * limit as u64 + 1).min(u64::from(*times));
                1 + kept * (1 + most(rig, inside, depth + 1, steps))
            }
            _ => Least::of(rig, std::slice::from_ref(step)).all(),
        };
        steps.iter().map(of).sum()
    }

    #[test]
    fn repetitions_share_the_room_in_the_record() {
        let rig = rig(200);
        for steps in [
            vec![repeat(100_000, measures(&[200]))],
            (0..100).map(|_| repeat(1_000, measures(&[20]))).collect(),
            vec![repeat(2, measures(&[200; 20])), repeat(1_000, measures(&[1])), repeat(1_000, measures(&[200; 30]))],
            vec![repeat(1_000, vec![repeat(50, vec![repeat(20, measures(&[8, 8]))]), repeat(10, measures(&[100]))])],
            vec![repeat(3, vec![repeat(3, vec![repeat(3, measures(&[200; 6]))])])],
            measures(&[200; 160]).into_iter().chain([repeat(100_000, measures(&[1]))]).collect(),
        ] {
            let scenario = scenario(steps);
            let least = Least::of(&rig, &scenario.steps).all();
            assert!(least <= MAX_ENTRIES, "{least}: no such scenario is read");
            let most = most(&rig, Room::of(&rig, &scenario), 1, &scenario.steps);
            assert!((least..=MAX_ENTRIES).contains(&most), "{most} entries");
        }
    }

    #[test]
    fn small_rounds_are_kept_up_to_the_limit_and_large_ones_as_far_as_there_is_room() {
        let limit = |sensors: u8, steps: Vec<Step>| {
            let rig = rig(sensors);
            let steps = scenario(vec![repeat(100_000, steps)]);
            let Action::Repeat { bound, steps: inside, .. } = &steps.steps[0].action else { panic!("a repetition") };
            Room::of(&rig, &steps).share(&rig, 1, *bound, inside).0
        };
        assert_eq!(limit(8, measures(&[8])), 512);
        // A round has an entry of its own, one for the step, and three for each sensor; 99 999 hold 165 of them.
        assert_eq!(limit(200, measures(&[200])), 82);
        assert_eq!(limit(200, measures(&[200; 50])), 1);
    }

    fn round(number: u32, outcome: StepOutcome) -> Round {
        Round { number, outcome, steps: Vec::new() }
    }

    fn thinned(rounds: u32, failed: impl Fn(u32) -> bool) -> Rounds {
        let mut thinning = Thinning::new(KEPT);
        for number in 1..=rounds {
            let outcome = if failed(number) { StepOutcome::Failed } else { StepOutcome::Passed };
            thinning.add(round(number, outcome));
        }
        thinning.into_rounds()
    }

    #[test]
    fn keeps_every_round_of_a_short_run() {
        let rounds = thinned(512, |_| false);
        assert_eq!((rounds.kept.len(), rounds.one_kept_in, rounds.begun), (512, 1, 512));
    }

    #[test]
    fn keeps_an_even_selection_of_a_long_run() {
        let rounds = thinned(100_000, |_| false);
        assert_eq!((rounds.begun, rounds.failed, rounds.one_kept_in), (100_000, 0, 256));
        let numbers: Vec<u32> = rounds.kept.iter().map(|round| round.number).collect();
        let even: Vec<u32> = (1..=100_000).step_by(256).collect();
        assert_eq!(numbers, even);
    }

    #[test]
    fn keeps_the_first_failed_rounds_and_counts_the_others() {
        let rounds = thinned(10_000, |number| number % 10 == 0);
        assert_eq!((rounds.failed, rounds.failed_not_kept), (1_000, 488));
        let failed = rounds.kept.iter().filter(|round| round.outcome == StepOutcome::Failed);
        assert!(failed.map(|round| round.number).eq((10..=5_120).step_by(10)));
    }
}
