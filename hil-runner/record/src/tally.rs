//! Sums over a record that several reports need.

use std::collections::BTreeMap;

use slotwise::bus::RomCode;

use super::{ReadingOutcome, Record, StepData, StepOutcome, StepRecord};
use crate::{Ruling, Verdict};

/// Expectations by what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Met.
    pub met: u32,
    /// Not met.
    pub not_met: u32,
    /// Not decidable on this rig.
    pub cannot_tell: u32,
}

impl Tally {
    /// That of some verdicts.
    #[must_use]
    pub fn of<'v>(verdicts: impl IntoIterator<Item = &'v Verdict>) -> Self {
        let mut tally = Self::default();
        for verdict in verdicts {
            match verdict.ruling {
                Ruling::Met => tally.met += 1,
                Ruling::NotMet => tally.not_met += 1,
                Ruling::CannotTell => tally.cannot_tell += 1,
            }
        }
        tally
    }
}

impl Record {
    /// The expectations of all steps; those inside a repetition are summed up by its own.
    #[must_use]
    pub fn tally(&self) -> Tally {
        Tally::of(self.steps.iter().flat_map(|step| &step.verdicts))
    }

    /// The first step that failed, or broke off on a broken rig.
    #[must_use]
    pub fn first_failure(&self) -> Option<&StepRecord> {
        self.steps.iter().find(|step| matches!(step.outcome, StepOutcome::Failed | StepOutcome::Broken))
    }

    /// The last number that each sensor gave without a doubt, in sixteenths of a degree Celsius.
    #[must_use]
    pub fn last_readings(&self) -> BTreeMap<RomCode, i16> {
        let mut last = BTreeMap::new();
        for step in &self.steps {
            gather(step, &mut last);
        }
        last
    }
}

fn gather(step: &StepRecord, last: &mut BTreeMap<RomCode, i16>) {
    match &step.data {
        StepData::Readings { readings, .. } => {
            for reading in readings {
                if let ReadingOutcome::Read(number) = &reading.outcome
                    && number.doubts.is_empty()
                {
                    last.insert(reading.sensor.rom, number.sixteenths);
                }
            }
        }
        StepData::Rounds(rounds) => {
            for step in rounds.kept.iter().flat_map(|round| &round.steps) {
                gather(step, last);
            }
        }
        _ => {}
    }
}
