//! Searches from their first pass to their last: who was found, and who is not found any more.

use std::collections::BTreeSet;

use super::watch::{Watch, about};
use super::{Cause, Finding, Topic, Weight};
use crate::decode::Triplet;
use crate::rom::Rom;
use crate::who::Who;

/// Sensors of one search that are remembered. A line has not as many.
const SENSORS: usize = 2_000;

/// A search under way, and the last one that was whole.
#[derive(Clone, Debug, Default)]
pub(super) struct Searches {
    /// When the search under way began, and who was found so far.
    under_way: Option<(u64, BTreeSet<Rom>)>,
    /// Who was found in the last whole one.
    before: BTreeSet<Rom>,
}

impl Searches {
    /// Whether it is known who is there.
    pub(super) fn is_whole(&self) -> bool {
        !self.before.is_empty()
    }

    /// A pass that failed: the search proves nothing.
    pub(super) fn fail(&mut self) {
        self.under_way = None;
    }

    /// A pass that ended with a ROM code. If it was the last of a whole search: since when it lasted, who was found in it, and who was
    /// found in the one before.
    fn pass(&mut self, at_ns: u64, rom: Rom, triplets: &[Triplet]) -> Option<(u64, BTreeSet<Rom>, BTreeSet<Rom>)> {
        let mut conflicts = triplets.iter().filter(|of| !of.bit && !of.complement).map(|of| of.written == Some(true));
        let is_first = conflicts.clone().all(|took_one| !took_one);
        let is_last = conflicts.all(|took_one| took_one);
        if is_first {
            self.under_way = Some((at_ns, BTreeSet::new()));
        }
        let (_, found) = self.under_way.as_mut()?;
        if found.len() < SENSORS {
            found.insert(rom);
        }
        if !is_last {
            return None;
        }
        let (since_ns, found) = self.under_way.take()?;
        Some((since_ns, found.clone(), std::mem::replace(&mut self.before, found)))
    }
}

impl Watch {
    /// A pass of a search of all, not of those in alarm.
    pub(super) fn searched(&mut self, at_ns: u64, rom: Rom, triplets: &[Triplet]) {
        let Some((since_ns, found, before)) = self.searches.pass(at_ns, rom, triplets) else { return };
        self.was_found_alone = found.len() == 1;
        let gone: Vec<String> = before.difference(&found).map(Rom::to_string).collect();
        if gone.is_empty() {
            return;
        }
        for rom in before.difference(&found) {
            if let Some(known) = self.sensors.get_mut(&Who::Sensor(*rom)) {
                known.is_gone = true;
            }
        }
        let text = format!(
            "found before, and not in the search of {}: a bad contact, a lead that was cut, or a sensor that comes and goes",
            about(since_ns)
        );
        let count = 1;
        self.findings.push(Finding {
            topic: Topic::Gone,
            weight: Weight::Fault,
            cause: Cause::Line,
            at_ns: since_ns,
            last_ns: at_ns,
            count,
            sensors: gone,
            text,
        });
    }
}
