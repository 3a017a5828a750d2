//! From the level of a line to its low pulses.

use super::capture::Level;

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

/// The level of a line so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Lows {
    level: Option<Level>,
    fell_ns: Option<u64>,
}

impl Lows {
    /// Takes the level from a time on. A pulse, if one ends there of which the beginning was seen.
    pub fn take(&mut self, at_ns: u64, level: Level) -> Option<Pulse> {
        let before = self.level.replace(level);
        match (before, level) {
            // What was low from the beginning has no length.
            (Some(Level::High), Level::Low) => {
                self.fell_ns = Some(at_ns);
                None
            }
            (Some(Level::Low), Level::High) => {
                self.fell_ns.take().map(|fell_ns| Pulse { fell_ns, rose_ns: at_ns.max(fell_ns) })
            }
            (_, Level::Unknown) => {
                self.fell_ns = None;
                None
            }
            _ => None,
        }
    }

    /// Edges may be missing from here on.
    pub const fn lose(&mut self) {
        (self.level, self.fell_ns) = (None, None);
    }

    /// Since when the line is low, if it is.
    #[must_use]
    pub const fn low_since_ns(&self) -> Option<u64> {
        self.fell_ns
    }
}
