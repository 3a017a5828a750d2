//! Whether a value goes on and on in one direction.

use statrs::distribution::{ContinuousCDF, Normal};

/// Fewest values among which a trend is looked for. Chosen: the normal distribution serves for the test from ten on
/// (M. G. Kendall, "Rank Correlation Methods", from memory).
const FEWEST: usize = 10;

/// A trend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Trend {
    /// Chance of one so clear, on either side, if there is none.
    pub(super) chance: f64,
    /// By how much the value has changed from the first to the last: the slope of Theil and Sen times their distance.
    pub(super) change: f64,
}

impl Trend {
    /// Of values in equal steps. `None` if there are too few.
    pub(super) fn of(values: &[f64]) -> Option<Self> {
        let count = values.len();
        if count < FEWEST {
            return None;
        }
        let mut sign_sum = 0_i64;
        let mut slopes = Vec::with_capacity(count * (count - 1) / 2);
        for (later, value) in values.iter().enumerate() {
            for (earlier, before) in values[..later].iter().enumerate() {
                sign_sum += match value.total_cmp(before) {
                    std::cmp::Ordering::Greater => 1,
                    std::cmp::Ordering::Equal => 0,
                    std::cmp::Ordering::Less => -1,
                };
                slopes.push((value - before) / (later - earlier) as f64);
            }
        }
        slopes.sort_by(f64::total_cmp);
        let middle = slopes.len() / 2;
        let slope =
            if slopes.len() % 2 == 1 { slopes[middle] } else { f64::midpoint(slopes[middle - 1], slopes[middle]) };
        let variance = variance(values);
        // One is taken off towards zero: the sum moves in steps of two.
        let z = (sign_sum.abs() - 1).max(0) as f64 / variance.sqrt();
        let chance = if variance > 0.0 { 2.0 * Normal::standard().sf(z) } else { 1.0 };
        Some(Self { chance: chance.min(1.0), change: slope * (count - 1) as f64 })
    }
}

/// Variance of the sum of signs, with the correction for equal values.
fn variance(values: &[f64]) -> f64 {
    let term = |count: usize| {
        let count = count as f64;
        count * (count - 1.0) * (2.0 * count + 5.0)
    };
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let ties: f64 = sorted.chunk_by(|a, b| a == b).map(|group| term(group.len())).sum();
    (term(values.len()) - ties) / 18.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten values that rise: S = 45, Var S = 10 * 9 * 25 / 18 = 125, Z = 44 / sqrt(125) = 3.9355, p = 8.30e-5 on both
    /// sides (normal table).
    #[test]
    fn a_steady_rise_is_as_unlikely_as_computed_by_hand() {
        let values: Vec<f64> = (0..10).map(|n| 3.0 + 0.5 * f64::from(n)).collect();
        let trend = Trend::of(&values).unwrap();
        assert!((trend.chance - 8.30e-5).abs() < 1e-6, "{}", trend.chance);
        assert!((trend.change - 4.5).abs() < 1e-12);
    }

    /// Two groups of five equal values: S = 25, Var S = (2250 - 2 * 5 * 4 * 15) / 18 = 91.67, Z = 24 / 9.574 = 2.5067,
    /// p = 0.0122.
    #[test]
    fn equal_values_are_taken_into_account() {
        let values: Vec<f64> = (0..10).map(|n| f64::from(n / 5)).collect();
        let trend = Trend::of(&values).unwrap();
        assert!((trend.chance - 0.0122).abs() < 1e-4, "{}", trend.chance);
    }

    #[test]
    fn what_never_changes_has_no_trend() {
        let trend = Trend::of(&[7.0; 20]).unwrap();
        assert!((trend.chance - 1.0).abs() < f64::EPSILON);
        assert_eq!(Trend::of(&[1.0; 9]), None);
    }
}
