//! Whether a measured value is where it was.

use statrs::distribution::{ContinuousCDF, StudentsT};

use slotwise_past::{Figure, FigureKind};

/// Fewest values of the past from which anything is said. Chosen: with less the interval is wider than anything that
/// happens.
pub const FEWEST_VALUES: usize = 5;

/// What is known of a value from its past.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Usual {
    pub(super) mean: f64,
    /// Standard deviation of one value, with what the grain of the measurement adds.
    pub(super) spread: f64,
    pub(super) count: usize,
}

impl Usual {
    /// `None` if there are too few.
    pub(super) fn of(past: &[Figure]) -> Option<Self> {
        let count = past.len();
        if count < FEWEST_VALUES {
            return None;
        }
        let mean = past.iter().map(|figure| figure.value).sum::<f64>() / count as f64;
        let squares: f64 = past.iter().map(|figure| (figure.value - mean).powi(2)).sum();
        // Values that always fall into one grain of the measurement scatter all the same, by the width of a uniform
        // distribution over the square root of 12.
        let grain = past.iter().map(|figure| figure.grain).fold(0.0, f64::max);
        let spread = (squares / (count - 1) as f64 + grain * grain / 12.0).sqrt();
        Some(Self { mean, spread, count })
    }

    /// Chance of a value so far off or further, on either side, if nothing has changed.
    pub(super) fn chance(&self, value: f64) -> f64 {
        let off = (value - self.mean).abs();
        if off == 0.0 {
            return 1.0;
        }
        if self.spread == 0.0 {
            return 0.0;
        }
        let count = self.count as f64;
        let t = off / (self.spread * (1.0 + 1.0 / count).sqrt());
        StudentsT::new(0.0, 1.0, count - 1.0).map_or(1.0, |distribution| 2.0 * distribution.sf(t))
    }
}

/// The least difference between two values that matters, in their unit. All chosen, with the reason beside each.
pub(super) fn matters(figure: &Figure, usual: f64) -> f64 {
    let usual = usual.abs();
    let share = match figure.kind {
        // The clocks of sensors move by about a percent over the temperatures of a year.
        FigureKind::ConversionTime => 0.02 * usual,
        // Weather moves cable and pull-up by a few percent.
        FigureKind::RiseTime => (0.10 * usual).max(200.0),
        FigureKind::PresenceDelay | FigureKind::PresenceWidth => 0.03 * usual,
        // The DS18B20 datasheet (7/19), DC Electrical Characteristics, allows +-0.2 degC of drift (note: 1000 hours at
        // 125 degC); half of that is worth a look. It is no finer than a step of 12 bits either.
        FigureKind::FromNeighbours => 100.0,
        FigureKind::FailedReadings
        | FigureKind::FailedRounds
        | FigureKind::RepeatedRequests
        | FigureKind::Found
        | FigureKind::Flash
        | FigureKind::Statics => 0.0,
    };
    // Each of two values may be late by up to the grain, so that is how far they may be apart by themselves.
    share.max(figure.grain)
}

#[cfg(test)]
mod tests {
    use super::*;
    use slotwise_past::FigureSubject;

    fn figure(value: f64) -> Figure {
        Figure { kind: FigureKind::RiseTime, subject: FigureSubject::Whole, value, of: 1, grain: 0.0 }
    }

    /// Mean 3, standard deviation sqrt(2.5), 5 values: t = (x - 3) / (1.58114 * sqrt(1.2)). The two-sided 5 % point of
    /// Student's t with 4 degrees of freedom is 2.776 (any table), so x = 3 + 2.776 * 1.73205 = 7.8087.
    #[test]
    fn the_interval_is_that_of_the_tables() {
        let past: Vec<Figure> = [1.0, 2.0, 3.0, 4.0, 5.0].map(figure).into();
        let usual = Usual::of(&past).unwrap();
        assert!((usual.chance(7.8087) - 0.05).abs() < 1e-4, "{}", usual.chance(7.8087));
        assert!((usual.chance(3.0 - 4.8087) - 0.05).abs() < 1e-4);
        assert!((usual.chance(3.0) - 1.0).abs() < f64::EPSILON);
    }

    #[test]
    fn few_values_say_nothing() {
        assert_eq!(Usual::of(&[1.0, 2.0, 3.0, 4.0].map(figure)), None);
    }

    #[test]
    fn values_within_one_grain_scatter_by_it() {
        let past = vec![Figure { grain: 12.0, ..figure(100.0) }; 6];
        let usual = Usual::of(&past).unwrap();
        assert!((usual.spread - 12.0 / 12.0_f64.sqrt()).abs() < 1e-9);
    }
}
