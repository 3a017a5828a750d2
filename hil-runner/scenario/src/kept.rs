//! How much of a scenario a record keeps: an entry for each step, sensor and verdict. Of steps that are repeated only some
//! rounds are kept, so what counts here is the least that must be kept of them; a run fills the room that is left.

use super::{Action, Bound, Step};
use slotwise_rig::Rig;
use slotwise_terms::fixed_point;
use slotwise_terms::fixed_point::spacing_ms;

/// Most entries of a record. One has 0.2 to 0.8 kB, so that a record stays below 100 MB.
pub const MAX_ENTRIES: u64 = 100_000;

/// Rounds that are kept of a repetition at the least: one that passed, one that failed, and the one that ended the run.
const LEAST_ROUNDS: u32 = 3;

/// The least number of entries that some steps have in a record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Least {
    /// Of steps that are no repetitions.
    once: u64,
    /// Of repetitions.
    again: u64,
}

impl Least {
    /// That of these steps.
    #[must_use]
    pub fn of(rig: &Rig, steps: &[Step]) -> Self {
        steps.iter().fold(Self::default(), |sum, step| {
            let Self { once, again } = Self::of_step(rig, step);
            Self { once: sum.once.saturating_add(once), again: sum.again.saturating_add(again) }
        })
    }

    pub(super) fn of_step(rig: &Rig, step: &Step) -> Self {
        let on_line = rig.inventory.len() as u64;
        let once = |entries: u64| Self { once: entries.saturating_add(1), again: 0 };
        match &step.action {
            // Found, there, and how it is powered.
            Action::Find { .. } => once(3 * on_line),
            Action::AlarmSearch { .. } => once(2 * on_line),
            // Its bytes, the settings taken, and twice the EEPROM.
            Action::Configure { sensors, .. } => once(4 * sensors.len() as u64),
            // Its bytes, and the verdict.
            Action::Holds { sensors, .. } => once(2 * sensors.len() as u64),
            // The reading, its number, its doubts, and what is expected of it.
            Action::Measure(measure) => once((3 + measure.expect.len() as u64) * measure.sensors.len() as u64),
            // The readings of the window, what was found of each sensor, and the verdicts on it.
            Action::FixedPoint(check) => {
                let rounds = check.stable_for_ms / spacing_ms(check.stable_for_ms) + 2;
                once((rounds.max(fixed_point::LEAST_ROUNDS as u64) + 4) * check.sensors.len() as u64)
            }
            Action::Repeat { bound, steps, .. } => {
                let rounds = u64::from(least_rounds(*bound));
                Self { once: 1, again: rounds.saturating_mul(Self::of(rig, steps).round()) }
            }
            Action::PowerCycle { .. }
            | Action::Ambient { .. }
            | Action::Inject(_)
            | Action::Clear(_)
            | Action::Wait { .. } => once(0),
        }
    }

    /// All of it.
    #[must_use]
    pub const fn all(self) -> u64 {
        self.once.saturating_add(self.again)
    }

    /// The least of a round of these steps.
    #[must_use]
    pub const fn round(self) -> u64 {
        self.all().saturating_add(1)
    }

    /// How many times its least each of the repetitions may have, if everything together may have `most`.
    pub fn times(self, most: u64) -> u64 {
        most.saturating_sub(self.once).checked_div(self.again).unwrap_or(1).max(1)
    }
}

/// How many rounds are kept of a repetition at the least.
pub fn least_rounds(bound: Bound) -> u32 {
    match bound {
        Bound::Times(times) => times.min(LEAST_ROUNDS),
        Bound::ForMs(_) => LEAST_ROUNDS,
    }
}
