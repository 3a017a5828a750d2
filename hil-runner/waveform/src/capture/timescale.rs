//! Ticks of a capture as nanoseconds.

use vcd::TimescaleUnit;

use super::OpenError;

/// No capture is longer: 36 years. Times are then safe to add and to subtract.
const LONGEST_NS: u128 = 1 << 60;

/// How long a tick is, as a fraction of nanoseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Timescale {
    numerator: u128,
    denominator: u128,
}

impl Timescale {
    pub(super) fn new(number: u32, unit: TimescaleUnit) -> Result<Self, OpenError> {
        if number == 0 {
            return Err(OpenError::ZeroTimescale);
        }
        // Units divide a second into a power of ten.
        let (numerator, denominator) = (u128::from(number) * 1_000_000_000, u128::from(unit.divisor()));
        Ok(if numerator.is_multiple_of(denominator) {
            Self { numerator: numerator / denominator, denominator: 1 }
        } else {
            Self { numerator, denominator }
        })
    }

    /// So many ticks in nanoseconds, rounded down. None beyond the longest time that is read.
    pub(super) fn ns(self, ticks: u64) -> Option<u64> {
        let ns = u128::from(ticks).checked_mul(self.numerator)? / self.denominator;
        (ns < LONGEST_NS).then(|| u64::try_from(ns).ok()).flatten()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unit_of_the_standard_has_its_length() {
        // IEEE 1364: s, ms, us, ns, ps, fs, with 1, 10 or 100 before it.
        let ns = |number, unit, ticks| Timescale::new(number, unit).unwrap().ns(ticks);
        assert_eq!(ns(1, TimescaleUnit::S, 2), Some(2_000_000_000));
        assert_eq!(ns(10, TimescaleUnit::MS, 1), Some(10_000_000));
        assert_eq!(ns(1, TimescaleUnit::US, 493), Some(493_000));
        assert_eq!(ns(100, TimescaleUnit::NS, 3), Some(300));
        assert_eq!(ns(1, TimescaleUnit::PS, 1_999), Some(1));
        assert_eq!(ns(10, TimescaleUnit::FS, 300_000), Some(3));
    }

    #[test]
    fn absurd_times_are_refused() {
        assert_eq!(Timescale::new(1, TimescaleUnit::S).unwrap().ns(u64::MAX), None);
        assert_eq!(Timescale::new(100, TimescaleUnit::S).unwrap().ns(1 << 60), None);
        assert!(matches!(Timescale::new(0, TimescaleUnit::NS), Err(OpenError::ZeroTimescale)));
    }
}
