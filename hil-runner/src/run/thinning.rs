//! Which rounds of a repetition are kept, so that a record stays of bounded size however long a run is.
//!
//! Of the rounds that passed an even selection is kept: when there are too many, every other one goes, and from then on
//! only every second, fourth, eighth ... is taken. Rounds that failed are kept apart from them, the first ones.

use crate::record::{Round, Rounds, StepOutcome};

/// How many rounds are kept of a repetition: passed ones, and as many failed ones.
const KEPT: usize = 512;
/// The same of a repetition inside another one.
const KEPT_INSIDE: usize = 16;

/// Rounds as they are kept.
#[derive(Debug)]
pub(super) struct Thinning {
    rounds: Rounds,
    limit: usize,
    passed_kept: usize,
    failed_kept: usize,
}

impl Thinning {
    /// For a repetition at this depth; 1 is the outermost.
    pub(super) fn new(depth: usize) -> Self {
        let limit = if depth <= 1 { KEPT } else { KEPT_INSIDE };
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

    fn round(number: u32, outcome: StepOutcome) -> Round {
        Round { number, outcome, steps: Vec::new() }
    }

    fn thinned(rounds: u32, failed: impl Fn(u32) -> bool) -> Rounds {
        let mut thinning = Thinning::new(1);
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
