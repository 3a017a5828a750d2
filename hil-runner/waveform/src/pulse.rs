//! From the level of a line to its low pulses.

use super::capture::Level;

/// What is shorter is a spike (chosen): a quarter of the shortest time that means something, tLOW1 and tREC of at least 1 us at either
/// speed.
pub(super) const SPIKE_NS: u64 = 250;

/// The line was low for a while.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pulse {
    /// When it fell.
    pub fell_ns: u64,
    /// When it rose again.
    pub rose_ns: u64,
}

impl Pulse {
    /// How long it was low.
    #[must_use]
    pub const fn low_ns(self) -> u64 {
        self.rose_ns.saturating_sub(self.fell_ns)
    }
}

/// What follows from a level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// The line was low for a while.
    Pulse(Pulse),
    /// It was low from the beginning, or from where edges may be missing, so the pulse began then or before.
    Opening(Pulse),
    /// It is not known what the line was: edges may be missing.
    Lost {
        /// Since when.
        since_ns: u64,
        /// Up to when.
        until_ns: u64,
    },
}

/// An unknown level that is over so soon is no more than an edge on its way through the threshold (chosen: the shortest time that means
/// something on a line, tREC and tLOW1 of 1 us).
const EDGE_NS: u64 = 1_000;

/// The level of a line so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Lows {
    level: Option<Level>,
    fell_ns: Option<u64>,
    /// The last pulse, until it is clear that the line stayed high after it.
    before: Option<Pulse>,
    unknown_ns: Option<u64>,
    low_from_start_ns: Option<u64>,
    spikes: Spikes,
}

/// How often the line was high inside of a pulse, for less than a quarter of a microsecond.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Spikes {
    /// So often.
    pub count: u64,
    /// The first time.
    pub first_ns: u64,
    /// The last time.
    pub last_ns: u64,
}

impl Lows {
    /// Takes the level from a time on, and reports what follows. A pulse is reported when the line falls again, or at the end.
    pub fn take(&mut self, at_ns: u64, level: Level, emit: &mut impl FnMut(Seen)) {
        if level == Level::Unknown {
            self.unknown_ns.get_or_insert(at_ns);
            return;
        }
        if let Some(since_ns) = self.unknown_ns.take()
            && self.level.is_some()
            && at_ns.saturating_sub(since_ns) > EDGE_NS
        {
            self.lose(emit);
            emit(Seen::Lost { since_ns, until_ns: at_ns });
        }
        match (self.level.replace(level), level) {
            (Some(Level::High), Level::Low) => self.fell(at_ns, emit),
            (Some(Level::Low), Level::High) => {
                if let Some(fell_ns) = self.low_from_start_ns.take() {
                    emit(Seen::Opening(Pulse { fell_ns, rose_ns: at_ns.max(fell_ns) }));
                }
                self.before = self.fell_ns.take().map(|fell_ns| Pulse { fell_ns, rose_ns: at_ns.max(fell_ns) });
            }
            // What was low from the beginning has no length.
            (None, Level::Low) => self.low_from_start_ns = Some(at_ns),
            _ => {}
        }
    }

    fn fell(&mut self, at_ns: u64, emit: &mut impl FnMut(Seen)) {
        self.fell_ns = Some(at_ns);
        let Some(before) = self.before.take() else { return };
        if at_ns.saturating_sub(before.rose_ns) < SPIKE_NS {
            self.fell_ns = Some(before.fell_ns);
            let first_ns = if self.spikes.count == 0 { before.rose_ns } else { self.spikes.first_ns };
            self.spikes = Spikes { count: self.spikes.count + 1, first_ns, last_ns: before.rose_ns };
        } else {
            emit(Seen::Pulse(before));
        }
    }

    /// Edges may be missing from here on, or nothing more comes: the last pulse.
    pub fn lose(&mut self, emit: &mut impl FnMut(Seen)) {
        if let Some(before) = self.before.take() {
            emit(Seen::Pulse(before));
        }
        *self = Self { spikes: self.spikes, ..Self::default() };
    }

    /// Since when the line is low, if it is.
    #[must_use]
    pub fn low_since_ns(&self) -> Option<u64> {
        self.fell_ns.or(self.low_from_start_ns)
    }

    /// Highs that were taken for nothing.
    #[must_use]
    pub const fn spikes(&self) -> Spikes {
        self.spikes
    }
}
