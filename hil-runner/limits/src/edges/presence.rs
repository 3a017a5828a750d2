//! Looks after a reset: which of them are for presence, and whether any legal presence pulse could pass unseen.
//!
//! A pulse begins 15 to 60 us after the release and lasts at least 60 us. So one look is enough, if it falls between 60 us
//! (the latest beginning) and 75 us (the earliest end). Several looks do as well, if no two of them are further apart than
//! the shortest pulse is long, up to the first from 60 us on.

use crate::figures::{PRESENCE_DELAY_LEAST_NS, PRESENCE_DELAY_MOST_NS, RESET_HIGH_LEAST_NS};

/// What a look after a reset is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Purpose {
    /// Whether the line has risen: no sensor pulls it low yet.
    Rise,
    /// Presence.
    Presence,
    /// Neither: the reset is over.
    Idle,
}

/// The longest time without a look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Gap {
    /// When it began, after the release.
    pub(super) from_ns: u64,
    /// How long it was.
    pub(super) ns: u64,
}

/// The looks after one reset.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct PresenceLooks {
    last_ns: Option<u64>,
    widest: Option<Gap>,
}

impl PresenceLooks {
    /// Takes a look at so long after the release.
    pub(super) fn look(&mut self, after_ns: u64) -> Purpose {
        if after_ns < PRESENCE_DELAY_LEAST_NS {
            return Purpose::Rise;
        }
        if after_ns >= RESET_HIGH_LEAST_NS {
            return Purpose::Idle;
        }
        if !self.are_enough() {
            let from_ns = self.last_ns.unwrap_or(PRESENCE_DELAY_LEAST_NS);
            let gap = Gap { from_ns, ns: after_ns - from_ns };
            if self.widest.is_none_or(|widest| gap.ns > widest.ns) {
                self.widest = Some(gap);
            }
        }
        self.last_ns = Some(after_ns);
        Purpose::Presence
    }

    /// Whether no pulse can begin after the last of them.
    pub(super) fn are_enough(&self) -> bool {
        self.last_ns.is_some_and(|last| last >= PRESENCE_DELAY_MOST_NS)
    }

    /// The longest time between samples and the time of the last sample; none without samples.
    pub(super) fn seen(&self) -> Option<(Gap, u64)> {
        self.widest.zip(self.last_ns)
    }
}
