//! Which signal of a capture is a line.

use super::step::Steps;
use super::{Capture, Item, Level};
use crate::lengths::{PRESENCE_NS, RESET_NS, ZERO_NS};
use std::io::Read;

/// How much a signal is like a line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Resemblance {
    /// Nothing of a line is in it.
    #[default]
    None,
    /// Resets and slots without presence pulses: a master's own pin, or a line without sensors.
    Master,
    /// Resets, presence pulses and slots.
    Line,
}

/// What was seen of one signal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Looks {
    /// Falling edges.
    pub falls: u64,
    /// Low pulses as long as a reset.
    pub resets: u64,
    /// Low pulses that come after a reset when and for as long as a presence pulse does.
    pub presences: u64,
    /// Low pulses as short as those of slots.
    pub slots: u64,
    /// Those of them that are too short for a zero of the master's.
    pub short: u64,
    fell_ns: Option<u64>,
    reset_rose_ns: Option<u64>,
}

/// Lows of reset pulses, up to 10 ms (chosen).
const RESETS_NS: std::ops::Range<u64> = RESET_NS..10_000_000;
/// Of presence pulses: twice tPDLOW at most (DS18B20 datasheet (7/19), AC table) where several sensors answer or the line is slow
/// (chosen).
const PRESENCES_NS: std::ops::RangeInclusive<u64> = PRESENCE_NS..=480_000;
/// They begin no later after the release: tPDHIGH (same table), with room for slow lines.
const PRESENCE_AFTER_NS: u64 = 120_000;
/// Slots: tLOW0 at most (same table).
const SLOT_NS: u64 = 120_000;

/// So many slots make a line: a ROM command.
const SLOTS: u64 = 8;
/// One in so many is short on a line, where every ROM command has four ones; none is in the bits of a slow serial port (chosen).
const SHORT_SHARE: u64 = 8;

impl Looks {
    fn take(&mut self, at_ns: u64, level: Level) {
        match level {
            Level::Low if self.fell_ns.is_none() => {
                self.falls += 1;
                self.fell_ns = Some(at_ns);
            }
            Level::High => {
                let Some(fell_ns) = self.fell_ns.take() else { return };
                let low_ns = at_ns - fell_ns.min(at_ns);
                let after_reset = self.reset_rose_ns.take().map(|rose_ns| fell_ns.saturating_sub(rose_ns));
                if RESETS_NS.contains(&low_ns) {
                    self.resets += 1;
                    self.reset_rose_ns = Some(at_ns);
                } else if after_reset.is_some_and(|after_ns| after_ns <= PRESENCE_AFTER_NS)
                    && PRESENCES_NS.contains(&low_ns)
                {
                    self.presences += 1;
                } else if low_ns <= SLOT_NS {
                    self.slots += 1;
                    self.short += u64::from(low_ns < ZERO_NS);
                }
            }
            _ => {}
        }
    }

    /// How much it is like a line.
    #[must_use]
    pub const fn resemblance(&self) -> Resemblance {
        if self.resets == 0 || self.slots < SLOTS || self.short < self.slots / SHORT_SHARE {
            Resemblance::None
        } else if self.presences == 0 {
            Resemblance::Master
        } else {
            Resemblance::Line
        }
    }
}

/// What was seen of one signal as it is, and the other way round.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BothWays {
    plain: Looks,
    inverted: Looks,
    last: Option<(u64, Level)>,
    longest_low_ns: u64,
    longest_high_ns: u64,
}

/// A line rests high; one that was captured inverted rests low for longer than this many resets, its longest highs (chosen).
const REST: u64 = 4;

impl BothWays {
    fn take(&mut self, at_ns: u64, level: Level) {
        self.plain.take(at_ns, level);
        self.inverted.take(at_ns, level.inverted());
        let lasted_ns = |since_ns: u64| at_ns.saturating_sub(since_ns);
        match self.last.replace((at_ns, level)) {
            Some((since_ns, Level::Low)) => self.longest_low_ns = self.longest_low_ns.max(lasted_ns(since_ns)),
            Some((since_ns, Level::High)) => self.longest_high_ns = self.longest_high_ns.max(lasted_ns(since_ns)),
            Some((_, Level::Unknown)) | None => {}
        }
    }

    /// Edges may be missing.
    const fn lose(&mut self) {
        self.last = None;
        (self.plain.fell_ns, self.plain.reset_rose_ns) = (None, None);
        (self.inverted.fell_ns, self.inverted.reset_rose_ns) = (None, None);
    }

    /// Whether it is a line only the other way round.
    #[must_use]
    pub fn is_inverted(&self) -> bool {
        self.inverted.resemblance() == Resemblance::Line
            && self.plain.resemblance() != Resemblance::Line
            && self.longest_low_ns / REST >= self.longest_high_ns
    }

    /// What was seen of it the way it is a line.
    #[must_use]
    pub fn looks(&self) -> Looks {
        if self.is_inverted() { self.inverted } else { self.plain }
    }
}

/// Looks at all signals of a capture, or of its beginning. For each what was seen, and the steps in which it was sampled in
/// nanoseconds, or none if there were no changes.
pub fn choose<R: Read>(capture: Capture<R>) -> (Vec<BothWays>, Option<u64>) {
    let mut looks = vec![BothWays::default(); capture.signals().len()];
    let mut steps = Steps::default();
    for item in capture {
        let Item::Change(change) = item else {
            // Edges may be missing here.
            looks.iter_mut().for_each(BothWays::lose);
            continue;
        };
        steps.take(change.at_ns);
        if let Some(looks) = looks.get_mut(change.signal) {
            looks.take(change.at_ns, change.level);
        }
    }
    (looks, steps.step_ns())
}
