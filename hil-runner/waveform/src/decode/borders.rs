//! What separates a 1 from a 0 in a read slot.

use super::Speed;

/// From how long a low on a read slot is a 0, in nanoseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Borders {
    /// At standard speed.
    pub standard_ns: u64,
    /// At overdrive speed.
    pub overdrive_ns: u64,
}

impl Default for Borders {
    /// Those of the datasheets: tRDV of 15 us (DS18B20 datasheet (7/19), AC table), and of 2 us, which a 1 may still last (DS1996
    /// datasheet, overdrive limits).
    fn default() -> Self {
        Self { standard_ns: 15_000, overdrive_ns: 2_001 }
    }
}

impl Borders {
    /// That of a speed.
    #[must_use]
    pub const fn of(self, speed: Speed) -> u64 {
        match speed {
            Speed::Standard => self.standard_ns,
            Speed::Overdrive => self.overdrive_ns,
        }
    }

    /// The same with another one at a speed.
    #[must_use]
    pub const fn with(self, speed: Speed, ns: u64) -> Self {
        match speed {
            Speed::Standard => Self { standard_ns: ns, ..self },
            Speed::Overdrive => Self { overdrive_ns: ns, ..self },
        }
    }
}
