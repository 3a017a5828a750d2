//! From samples of the line after a reset pulse to the times that the datasheet names.

use super::clock::LineSample;

/// Where the line is after the release of a reset pulse.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    /// Still low.
    Rising { since: u32 },
    /// High, no presence pulse so far.
    Idle { since: u32 },
    /// In a presence pulse.
    Present { since: u32 },
    /// High again. Another sensor may still pull, later than the first.
    Over { since: u32 },
}

/// What one reset pulse showed, in ticks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct ResetSeen {
    pub(super) rise: Option<u32>,
    pub(super) presence_delay: Option<u32>,
    pub(super) presence_width: Option<u32>,
    pub(super) grain: u32,
}

/// Follows the line after one reset pulse.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Pulses {
    phase: Phase,
    seen: ResetSeen,
}

impl Pulses {
    /// The line was released at this tick.
    pub(super) const fn released(at: u32) -> Self {
        let seen = ResetSeen { rise: None, presence_delay: None, presence_width: None, grain: 0 };
        Self { phase: Phase::Rising { since: at }, seen }
    }

    /// Takes a sample that shows another level than the one before.
    pub(super) fn change(&mut self, sample: LineSample) {
        let LineSample { at, grain, high } = sample;
        self.seen.grain = self.seen.grain.max(grain);
        match (self.phase, high) {
            (Phase::Rising { since }, true) => {
                self.seen.rise = Some(at.wrapping_sub(since));
                self.phase = Phase::Idle { since: at };
            }
            (Phase::Idle { since }, false) => {
                self.seen.presence_delay = Some(at.wrapping_sub(since));
                self.phase = Phase::Present { since: at };
            }
            (Phase::Present { since }, true) => {
                self.seen.presence_width = Some(at.wrapping_sub(since));
                self.phase = Phase::Over { since };
            }
            (Phase::Over { since }, false) => self.phase = Phase::Present { since },
            _ => {}
        }
    }

    /// What was seen so far.
    pub(super) const fn seen(&self) -> ResetSeen {
        self.seen
    }
}
