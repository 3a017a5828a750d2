//! The times of a master: each from the range that the datasheet leaves it, and how far it varies from slot to slot.

use super::rng::Rng;

#[derive(Clone, Copy, Debug)]
pub struct Range {
    pub least: u64,
    pub most: u64,
}

impl Range {
    pub fn one(self, rng: &mut Rng) -> u64 {
        rng.between(self.least, self.most)
    }
}

#[derive(Clone, Debug)]
pub struct Master {
    pub reset_low: Range,
    pub reset_high: Range,
    pub zero_low: Range,
    pub one_low: Range,
    pub read_low: Range,
    /// High at least, after a slot.
    pub recovery: Range,
    /// From falling edge to falling edge at least.
    pub slot: Range,
    /// Between two polls.
    pub poll: Range,
    /// Between transactions, beside tREC.
    pub rest: Range,
}

/// How the times of a capture are chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Style {
    /// Each time at one of its limits.
    Corner,
    /// Somewhere in between, with a jitter of half a microsecond.
    Steady,
    /// Everything that is legal, from slot to slot.
    Loose,
}

impl Master {
    /// With `is_slow`: for a DS28EA00 (its datasheet, electrical table: tRSTL 480 to 640, tSLOT at least 65, tREC at
    /// least 5 us). `shortest_hold_ns`: where the sensors' zeros begin. A read 1 stays two samples away from it, so
    /// that the two stay distinct.
    pub fn new(
        style: Style,
        is_slow: bool,
        is_parasite: bool,
        shortest_hold_ns: u64,
        step_ns: u64,
        rng: &mut Rng,
    ) -> Self {
        let mut range = |least: u64, most: u64| match style {
            Style::Corner => {
                let at = rng.pick(&[least, most]);
                Range { least: at, most: at }
            }
            Style::Steady => {
                let at = rng.between(least, most);
                Range { least: at, most: (at + 500).min(most) }
            }
            Style::Loose => Range { least, most },
        };
        let read_most = 14_900.min(shortest_hold_ns.saturating_sub(2 * step_ns + 1)).max(1_100);
        let reset_most = if is_slow {
            640_000
        } else if is_parasite {
            960_000
        } else {
            1_500_000
        };
        Self {
            reset_low: range(480_000, reset_most),
            reset_high: range(480_000, 1_200_000),
            zero_low: range(60_000, 120_000),
            one_low: range(1_000, 15_000),
            read_low: range(1_001, read_most),
            recovery: range(if is_slow { 5_000 } else { 1_000 }, 20_000),
            slot: range(if is_slow { 65_000 } else { 61_000 }, 140_000),
            poll: range(1_000_000, 20_000_000),
            rest: range(0, 5_000_000),
        }
    }
}
