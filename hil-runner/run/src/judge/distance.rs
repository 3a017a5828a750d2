//! Distances between temperatures, exact: sensors count in sixteenths of a degree, scenarios in thousandths, and only twice
//! a thousandth divides both.

use slotwise_terms::units::celsius_of_halves;

/// A distance in two-thousandths of a degree Celsius, with its sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Distance(i64);

impl Distance {
    /// Between two readings.
    pub(super) fn of_sixteenths(sixteenths: i32) -> Self {
        Self(i64::from(sixteenths) * 125)
    }

    /// From a reference to a reading.
    pub(super) fn from_reference(reading_sixteenths: i32, reference_millicelsius: i32) -> Self {
        Self(i64::from(reading_sixteenths) * 125 - 2 * i64::from(reference_millicelsius))
    }

    /// The same with a correction added to the reading.
    pub(super) fn corrected_by(self, millicelsius: i32) -> Self {
        Self(self.0 + 2 * i64::from(millicelsius))
    }

    /// From another distance to this one.
    pub(super) fn minus(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }

    /// Exactly.
    pub(super) fn text(self) -> String {
        celsius_of_halves(self.0)
    }

    /// Whether it is at most this. With a tolerance of 0 half a thousandth passes: a reference such as 12.4375 degC is held
    /// to the thousandth.
    pub(super) fn is_within(self, tolerance_millicelsius: u32) -> bool {
        self.0.unsigned_abs() <= (2 * u64::from(tolerance_millicelsius)).max(1)
    }

    /// To the nearest thousandth, half of one away from zero.
    pub(super) fn millicelsius(self) -> i32 {
        // Of temperatures that fit in 32 bits.
        ((self.0 + self.0.signum()) / 2) as i32
    }
}

#[cfg(test)]
mod tests {
    use super::Distance;

    #[test]
    fn nothing_is_rounded_before_it_is_compared() {
        // 12.4375 and 12.5 degC are 0.0625 degC apart.
        let distance = Distance::from_reference(199, 12_500);
        assert!(!distance.is_within(62));
        assert!(distance.is_within(63));
        assert_eq!(distance.millicelsius(), -63);
        assert!(!Distance::of_sixteenths(1).is_within(62));
        assert!(Distance::of_sixteenths(-1).is_within(63));
    }

    #[test]
    fn a_reference_with_four_decimals_is_itself() {
        // 12.4375 degC, held as 12.438.
        assert!(Distance::from_reference(199, 12_438).is_within(0));
        assert!(!Distance::from_reference(199, 12_439).is_within(0));
        assert!(!Distance::from_reference(200, 12_501).is_within(0));
    }
}
