//! The rate of change of a temperature, once enough readings exist.

/// Readings older than this are ignored.
pub(super) const WINDOW_S: f64 = 300.0;
/// Fewest readings, and shortest time between the first and the last, for a trend. Chosen.
const FEWEST: usize = 4;
const SHORTEST_S: f64 = 5.0;

/// The trend of a temperature over the last readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Trend {
    /// There are too few readings.
    Unknown,
    /// It has not moved by more than a step of the reading.
    Steady,
    /// It moves, in degrees per minute.
    Moves(f64),
}

impl Trend {
    /// Of readings in seconds and degrees, with the step they come in: the straight line with the least squares of
    /// distances.
    pub(super) fn of(readings: &[(f64, f64)], step: f64) -> Self {
        let (Some(first), Some(last)) = (readings.first(), readings.last()) else { return Self::Unknown };
        let span = last.0 - first.0;
        if readings.len() < FEWEST || span < SHORTEST_S {
            return Self::Unknown;
        }
        let count = readings.len() as f64;
        let mean = |pick: fn(&(f64, f64)) -> f64| readings.iter().map(pick).sum::<f64>() / count;
        let (time, degrees) = (mean(|reading| reading.0), mean(|reading| reading.1));
        let squares: f64 = readings.iter().map(|reading| (reading.0 - time).powi(2)).sum();
        let products: f64 = readings.iter().map(|reading| (reading.0 - time) * (reading.1 - degrees)).sum();
        let slope = products / squares;
        // A reading that goes to and fro by one step has not moved.
        if (slope * span).abs() <= step { Self::Steady } else { Self::Moves(slope * 60.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: times 0, 10, 20, 30 s, readings 20.0, 20.5, 20.5, 21.0 degC. Means 15 and 20.5; sum of squares 500, of
    /// products (-15 * -0.5) + (-5 * 0) + (5 * 0) + (15 * 0.5) = 15; slope 0.03 degC/s, 1.8 degC/min.
    #[test]
    fn the_slope_is_that_calculated_by_hand() {
        let Trend::Moves(slope) = Trend::of(&[(0.0, 20.0), (10.0, 20.5), (20.0, 20.5), (30.0, 21.0)], 0.0625) else {
            panic!()
        };
        assert!((slope - 1.8).abs() < 1e-12, "{slope}");
    }

    #[test]
    fn one_step_of_the_reading_is_no_trend() {
        let readings: Vec<(f64, f64)> = (0..20).map(|n| (f64::from(n), 20.0 + 0.0625 * f64::from(n % 2))).collect();
        assert_eq!(Trend::of(&readings, 0.0625), Trend::Steady);
    }

    #[test]
    fn there_is_no_trend_from_too_few_readings() {
        assert_eq!(Trend::of(&[], 0.0625), Trend::Unknown);
        assert_eq!(Trend::of(&[(0.0, 20.0), (1.0, 25.0), (2.0, 30.0)], 0.0625), Trend::Unknown);
        assert_eq!(Trend::of(&[(0.0, 20.0), (1.0, 21.0), (2.0, 22.0), (3.0, 23.0)], 0.0625), Trend::Unknown);
    }
}
