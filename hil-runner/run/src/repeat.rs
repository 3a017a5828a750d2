//! Steps done again and again, with a bound on how many rounds may fail.
//!
//! The bound forgives rounds in which something was lost: no reading, a search that failed, a sensor that was not found. A
//! round with a wrong reading fails the repetition, whatever the bound.

use super::executor::{Executor, Findings};
use super::halt::Halt;
use super::thinning::Thinning;
use slotwise_record::{Check, Ruling, Verdict};
use slotwise_record::{Event, Progress};
use slotwise_record::{Round, StepData, StepOutcome, StepRecord};
use slotwise_scenario::{Bound, MAX_ROUNDS, Step};
use slotwise_terms::units::{about_percent, percent};

const NS_PER_MS: u64 = 1_000_000;

impl Executor<'_> {
    pub(super) fn repeat(
        &mut self,
        bound: Bound,
        max_failures_ppm: u32,
        steps: &[Step],
        findings: &mut Findings,
    ) -> Result<(), Halt> {
        let (limit, inside) = self.room.share(self.rig, self.place.len(), bound, steps);
        let around = std::mem::replace(&mut self.room, inside);
        let mut rounds = Thinning::new(limit);
        let started_ns = self.bench.now_ns();
        let mut wrong = Wrong::default();
        let repeated = self.rounds(bound, steps, started_ns, (&mut rounds, &mut wrong), findings);
        self.room = around;
        let (begun, failed) = (rounds.begun(), rounds.failed());
        findings.data = StepData::Rounds(rounds.into_rounds());
        if begun > 0 && !matches!(repeated, Err(Halt::Broken(_))) {
            findings.verdicts.extend(wrong.verdict(begun));
            findings.verdicts.push(rate(begun, failed, max_failures_ppm));
        }
        repeated
    }

    fn rounds(
        &mut self,
        bound: Bound,
        steps: &[Step],
        started_ns: u64,
        (rounds, wrong): (&mut Thinning, &mut Wrong),
        findings: &mut Findings,
    ) -> Result<(), Halt> {
        loop {
            self.go_on()?;
            let round_ns = self.bench.now_ns();
            let (records, halt) = self.steps(steps);
            let outcome = outcome(&records);
            wrong.check(rounds.begun() + 1, &records);
            rounds.add(Round { number: rounds.begun() + 1, outcome, steps: records });
            if let Some(halt) = halt {
                return Err(halt);
            }
            if outcome == StepOutcome::NotPossible {
                return Err(Halt::NotPossible("a step of this repetition".into()));
            }
            let now_ns = self.bench.now_ns();
            let passed_ms = now_ns.saturating_sub(started_ns) / NS_PER_MS;
            let (progress, is_over) = match bound {
                Bound::Times(times) => {
                    let (done, total) = (u64::from(rounds.begun()), u64::from(times));
                    (Progress::Count { done, total }, done >= total)
                }
                Bound::ForMs(total_ms) => (Progress::RigTime { passed_ms, total_ms }, passed_ms >= total_ms),
            };
            self.listener.notice(&Event::Progress { place: &self.place, progress });
            if is_over {
                return Ok(());
            }
            if let Some(got) = endless(bound, rounds.begun(), now_ns.saturating_sub(round_ns)) {
                let expected = "rounds that come to an end";
                findings.verdicts.push(Verdict::new(Check::Rounds, expected, "scenario", got, Ruling::NotMet));
                return Ok(());
            }
        }
    }
}

/// Rounds with wrong readings.
#[derive(Debug, Default)]
struct Wrong {
    rounds: u32,
    /// What it was, the first time.
    first: Option<String>,
}

impl Wrong {
    fn check(&mut self, round: u32, records: &[StepRecord]) {
        let mut verdicts = records.iter().flat_map(|step| step.verdicts.iter().map(move |verdict| (step, verdict)));
        let Some((step, verdict)) = verdicts.find(|(_, verdict)| verdict.is_wrong()) else { return };
        self.rounds += 1;
        self.first.get_or_insert_with(|| {
            let Verdict { sensor, expected, got, .. } = verdict;
            let place: Vec<String> = step.place.iter().map(ToString::to_string).collect();
            let who = sensor.as_ref().map_or(String::new(), |sensor| format!("{sensor}, "));
            format!("round {round}, step {}: {who}expected {expected}, got {got}", place.join("."))
        });
    }

    /// Verdict on `begun` rounds, if anything was wrong in one of them.
    fn verdict(&self, begun: u32) -> Option<Verdict> {
        let first = self.first.as_ref()?;
        let got = format!("something wrong in {} of {begun} rounds, first in {first}", self.rounds);
        let expected = "nothing wrong in any round (the bound is for what is lost)";
        Some(Verdict::new(Check::Rounds, expected, "always", got, Ruling::NotMet))
    }
}

/// Why a repetition by time is not coming to an end, if so.
fn endless(bound: Bound, begun: u32, round_ns: u64) -> Option<String> {
    match bound {
        Bound::Times(_) => None,
        Bound::ForMs(_) if round_ns == 0 => Some("a round in which no time of the rig passes".into()),
        Bound::ForMs(_) if begun >= MAX_ROUNDS => Some(format!("{MAX_ROUNDS} rounds, and time is left")),
        Bound::ForMs(_) => None,
    }
}

/// The outcome of a round.
fn outcome(steps: &[StepRecord]) -> StepOutcome {
    [StepOutcome::Broken, StepOutcome::Interrupted, StepOutcome::NotRun, StepOutcome::Failed, StepOutcome::NotPossible]
        .into_iter()
        .find(|outcome| steps.iter().any(|step| step.outcome == *outcome))
        .map_or(StepOutcome::Passed, |outcome| match outcome {
            // A step that was not reached: the user stopped the round between two steps.
            StepOutcome::NotRun => StepOutcome::Interrupted,
            other => other,
        })
}

fn rate(begun: u32, failed: u32, max_failures_ppm: u32) -> Verdict {
    let expected = format!("at most {} of the rounds fail", percent(u64::from(max_failures_ppm)));
    let got = format!("{failed} of {begun} rounds failed ({})", about_percent(failed, begun));
    // Multiplied out, so that nothing is rounded away.
    let is_met = u64::from(failed) * 1_000_000 <= u64::from(max_failures_ppm) * u64::from(begun);
    // Too much was lost. To a repetition around this one, that is a round that was lost.
    Verdict::new(Check::Rounds, expected, "scenario", got, Ruling::met_if(is_met)).lost()
}
