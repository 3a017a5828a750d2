//! Statistics of repeated measurements: a spread of times, and a standard deviation that a slow drift does not touch.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

/// Least, median and most of a number of times, in microseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct TimeSpread {
    /// How many there were.
    pub number: u32,
    /// The least.
    pub least_us: u32,
    /// The middle one; of an even number, the middle between the two in the middle.
    pub median_us: u32,
    /// The most.
    pub most_us: u32,
}

impl TimeSpread {
    /// Of these. `None` if there are none.
    #[must_use]
    pub fn of(times_us: &[u32]) -> Option<Self> {
        let mut sorted = times_us.to_vec();
        sorted.sort_unstable();
        let (least_us, most_us) = (*sorted.first()?, *sorted.last()?);
        let half = sorted.len() / 2;
        let upper = sorted[half];
        let median_us = if sorted.len().is_multiple_of(2) { sorted[half - 1].midpoint(upper) } else { upper };
        Some(Self { number: u32::try_from(sorted.len()).unwrap_or(u32::MAX), least_us, median_us, most_us })
    }
}

/// The standard deviation of values that drift slowly: that of the differences between neighbours, over the root of two. What
/// changes little from one value to the next falls out. `None` without a difference.
///
/// Several series, such as of several sensors, are pooled: each difference counts alike.
#[must_use]
pub fn drift_free_deviation(series: &[&[f64]]) -> Option<f64> {
    let squares: Vec<f64> =
        series.iter().flat_map(|values| values.windows(2).map(|pair| (pair[1] - pair[0]).powi(2))).collect();
    let number = u32::try_from(squares.len()).ok().filter(|number| *number > 0)?;
    Some((squares.iter().sum::<f64>() / (2.0 * f64::from(number))).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn median_is_the_middle_one_or_the_middle_of_two() {
        let spread =
            |times: &[u32]| TimeSpread::of(times).map(|spread| (spread.least_us, spread.median_us, spread.most_us));
        assert_eq!(spread(&[]), None);
        assert_eq!(spread(&[7]), Some((7, 7, 7)));
        assert_eq!(spread(&[9, 1, 5]), Some((1, 5, 9)));
        assert_eq!(spread(&[9, 1, 5, 7]), Some((1, 6, 9)));
        assert_eq!(TimeSpread::of(&[1, 2, 3]).unwrap().number, 3);
    }

    /// Mean square successive difference (von Neumann 1941): of 1, 3, 2, 5 the differences are 2, -1, 3, their squares sum up to
    /// 14, and 14 / (2 x 3) is 2.3333, whose root is 1.5275.
    #[test]
    fn deviation_is_that_of_the_worked_example() {
        let deviation = drift_free_deviation(&[&[1.0, 3.0, 2.0, 5.0]]).unwrap();
        assert!((deviation - 1.527_525).abs() < 1e-6, "{deviation}");
    }

    /// Of +1 and -1 in turn, each difference is 2: the root of 4 / 2, whatever is added that moves slowly: 0.001 each time makes
    /// the squares 2.001^2 and 1.999^2 in turn, 4.000001 on average.
    #[test]
    fn a_slow_drift_falls_out() {
        let still: Vec<f64> = (0..1001).map(|index| if index % 2 == 0 { 1.0 } else { -1.0 }).collect();
        let drifting: Vec<f64> = still.iter().zip(0..).map(|(value, index)| value + 0.001 * f64::from(index)).collect();
        let (still, drifting) = (drift_free_deviation(&[&still]).unwrap(), drift_free_deviation(&[&drifting]).unwrap());
        assert!((still - 2.0_f64.sqrt()).abs() < 1e-12);
        assert!((drifting - still).abs() < 1e-5, "{drifting}");
    }

    #[test]
    fn series_are_pooled_without_a_difference_between_them() {
        // 0, 0 and 100, 100: nothing moved within either.
        assert_eq!(drift_free_deviation(&[&[0.0, 0.0], &[100.0, 100.0]]), Some(0.0));
        // Squares 4 and 0 over 2 x 2.
        assert_eq!(drift_free_deviation(&[&[0.0, 2.0], &[5.0, 5.0]]), Some(1.0));
        assert_eq!(drift_free_deviation(&[&[1.0], &[]]), None);
    }
}
