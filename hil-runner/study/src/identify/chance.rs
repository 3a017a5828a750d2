//! The chance that noise alone does what was seen.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::rules::{BASELINE, TOGETHER};

/// The chance that noise alone makes any of so many sensors depart so far in this round, counted from one, or as remarkably in any
/// other round of the watch.
#[must_use]
pub fn chance_of_departure(departure: f64, deviation: f64, sensors: usize, round: u32) -> f64 {
    let error = deviation * (1.0 / TOGETHER as f64 + 1.0 / BASELINE as f64).sqrt();
    if error <= 0.0 {
        // No sensor is without noise: nothing is known of it.
        return 1.0;
    }
    let Ok(student) = StudentsT::new(0.0, 1.0, (BASELINE - 1) as f64) else { return 1.0 };
    let alone = 2.0 * student.sf((departure / error).abs());
    let round = f64::from(round);
    let tries = sensors as f64 * round * (round + 1.0);
    (alone * tries).min(1.0)
}

/// Least chance that a confidence is reported for (chosen): beyond, noise need not be normal.
const LEAST_CHANCE: f64 = 0.0001;

/// One minus a chance, at most 0.9999.
#[must_use]
pub fn confidence(chance: f64) -> f64 {
    1.0 - chance.max(LEAST_CHANCE)
}

/// The same as people read it: `99.95 %`. It is never rounded up to certainty.
#[must_use]
pub fn confidence_text(chance: f64) -> String {
    if chance < LEAST_CHANCE {
        "over 99.99 %".into()
    } else {
        format!("{:.2} %", ((1.0 - chance) * 1e4).floor() / 100.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student's t with 11 degrees of freedom: 2.201 leaves 0.05 in both tails, 4.437 leaves 0.001 (common tables, from memory).
    #[test]
    fn the_chance_of_one_sensor_in_one_round_is_that_of_the_tables() {
        let error = (1.0_f64 / 3.0 + 1.0 / 12.0).sqrt();
        for (t, both_tails) in [(2.201, 0.05), (4.437, 0.001)] {
            // The first round counts twice: once for itself, once for all rounds that may come.
            let chance = chance_of_departure(t * error, 1.0, 1, 1);
            assert!((chance / 2.0 - both_tails).abs() < both_tails * 0.002, "{t}: {chance}");
        }
    }

    /// 1/2 + 1/6 + 1/12 + ... = 1.
    #[test]
    fn all_rounds_and_sensors_together_have_no_more_than_was_allowed() {
        let weight: f64 = (1..100_000).map(|round| 1.0 / (f64::from(round) * (f64::from(round) + 1.0))).sum();
        assert!(weight < 1.0 && weight > 0.9999);
        let first = chance_of_departure(5.0, 1.0, 1, 1);
        assert!((chance_of_departure(5.0, 1.0, 8, 3) / first - 48.0).abs() < 1e-6);
    }

    #[test]
    fn nothing_is_certain() {
        assert_eq!(chance_of_departure(0.0, 0.0, 8, 1), 1.0);
        assert_eq!((confidence(1e-30), confidence(0.0), confidence(0.25)), (0.9999, 0.9999, 0.75));
        assert_eq!(confidence_text(1e-30), "over 99.99 %");
        assert_eq!(confidence_text(0.000_49), "99.95 %");
        assert_eq!(confidence_text(0.000_999), "99.90 %");
        assert_eq!(confidence_text(1.0), "0.00 %");
    }
}
