//! The counter that times everything: ticks of the core clock.

use core::fmt;

/// Slowest core clock at which sensors can be played, in hertz. At 8 MHz a polling loop answered too late for a master that samples
/// at 15 us, and had no time for the bookkeeping of a search; 48 MHz leaves two thirds of what was measured at 72 MHz.
pub const LEAST_HZ: u32 = 48_000_000;

/// A clock that is fast enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Clock {
    per_us: u32,
}

/// Why sensors cannot be played with a clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum ClockError {
    /// The core clock is under [`LEAST_HZ`].
    TooSlow {
        /// The core clock, in hertz.
        hz: u32,
    },
}

impl fmt::Display for ClockError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self::TooSlow { hz } = self;
        write!(f, "a core clock of {hz} Hz is too slow to play sensors: it needs {LEAST_HZ} Hz")
    }
}

impl core::error::Error for ClockError {}

impl Clock {
    /// The slowest.
    pub const SLOWEST: Self = Self { per_us: LEAST_HZ / 1_000_000 };

    /// A clock of `hz`; parts of a megahertz are dropped.
    ///
    /// # Errors
    /// [`ClockError::TooSlow`] under [`LEAST_HZ`].
    pub const fn new(hz: u32) -> Result<Self, ClockError> {
        if hz < LEAST_HZ {
            return Err(ClockError::TooSlow { hz });
        }
        Ok(Self { per_us: hz / 1_000_000 })
    }

    /// Ticks per microsecond.
    #[must_use]
    pub const fn per_us(self) -> u32 {
        self.per_us
    }

    /// A time as ticks, up to 4 ms.
    #[must_use]
    pub const fn ticks_of_ns(self, ns: u32) -> u32 {
        let ns = if ns > 4_000_000 { 4_000_000 } else { ns };
        // 4 000 000 times at most 1000 ticks fit.
        ((ns as u64 * self.per_us as u64) / 1_000) as u32
    }

    /// A time as ticks.
    #[must_use]
    pub const fn ticks_of_us(self, us: u32) -> u64 {
        us as u64 * self.per_us as u64
    }

    /// Ticks as nanoseconds.
    #[must_use]
    pub const fn ns(self, ticks: u32) -> u64 {
        // 48 at least.
        ticks as u64 * 1_000 / self.per_us as u64
    }

    /// Ticks as microseconds.
    #[must_use]
    pub const fn us(self, ticks: u64) -> u64 {
        ticks / self.per_us as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_under_48_mhz_is_refused_by_name() {
        assert_eq!(Clock::new(47_999_999), Err(ClockError::TooSlow { hz: 47_999_999 }));
        assert_eq!(Clock::new(LEAST_HZ).map(Clock::per_us), Ok(48));
    }

    #[test]
    fn times_become_ticks_and_back() {
        let clock = Clock::new(72_000_000).unwrap();
        assert_eq!(clock.ticks_of_ns(30_000), 2_160);
        assert_eq!(clock.ticks_of_us(750_000), 54_000_000);
        assert_eq!((clock.ns(2_160), clock.us(54_000_000)), (30_000, 750_000));
    }
}
