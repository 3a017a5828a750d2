//! How often reads fail, and between which rates the true one lies.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use statrs::distribution::{Beta, ContinuousCDF};

/// How sure an interval is.
const CONFIDENCE: f64 = 0.95;

/// Failures among reads, and the exact interval of Clopper and Pearson: the rates under which as few, or as many, failures have a
/// chance of at least half of what is left to 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct ErrorRate {
    /// How many reads.
    pub reads: u32,
    /// How many of them failed.
    pub errors: u32,
    /// The lower end of the interval.
    pub least: f64,
    /// The upper end.
    pub most: f64,
    /// The confidence of the interval.
    pub confidence: f64,
}

impl ErrorRate {
    /// What so many failures say. None without a read, or with more failures than reads.
    #[must_use]
    pub fn of(errors: u32, reads: u32) -> Option<Self> {
        let half = (1.0 - CONFIDENCE) / 2.0;
        let (failed, well) = (f64::from(errors), f64::from(reads.checked_sub(errors)?));
        if reads == 0 {
            return None;
        }
        let least = match errors {
            0 => 0.0,
            _ => Beta::new(failed, well + 1.0).ok()?.inverse_cdf(half),
        };
        let most = match reads - errors {
            0 => 1.0,
            _ => Beta::new(failed + 1.0, well).ok()?.inverse_cdf(1.0 - half),
        };
        Some(Self { reads, errors, least, most, confidence: CONFIDENCE })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ends(errors: u32, reads: u32) -> (f64, f64) {
        let rate = ErrorRate::of(errors, reads).unwrap();
        (rate.least, rate.most)
    }

    /// No failure in n reads has the chance (1 - p)^n, which is alpha / 2 at p = 1 - (alpha / 2)^(1 / n): 1 - 0.025^0.01 =
    /// 0.0362 of 100. The "rule of three" (3 / n, common practice, one-sided 95 %) is 1 - 0.05^(1 / n) to within its
    /// approximation.
    #[test]
    fn no_failure_gives_an_upper_end_by_hand() {
        for reads in [1, 5, 100, 800, 10_000, 1_000_000] {
            let (least, most) = ends(0, reads);
            let by_hand = 1.0 - 0.025_f64.powf(1.0 / f64::from(reads));
            // The inverse of the beta distribution is computed by steps; at a million reads they end some 1e-4 of it away.
            assert!(least == 0.0 && (most / by_hand - 1.0).abs() < 5e-4, "{reads}: {most} {by_hand}");
            // Two-sided, it is ln 40 / n instead of ln 20 / n = 3 / n: never less than the rule of three.
            if reads >= 100 {
                let three = 3.0 / f64::from(reads);
                assert!(most > three && most < 1.25 * three, "{reads}: {most}");
            }
        }
        assert!((ends(0, 100).1 - 0.0362).abs() < 5e-5);
    }

    /// The ends are where the binomial distribution, summed here term by term, leaves alpha / 2 outside. 1 of 20: 0.00127 and
    /// 0.2487 (tables of the exact interval, from memory).
    #[test]
    fn both_ends_leave_half_of_the_rest_outside() {
        let at_most = |errors: u32, reads: u32, rate: f64| -> f64 {
            let mut term = (1.0 - rate).powf(f64::from(reads));
            let mut sum = term;
            for number in 1..=errors {
                term *= f64::from(reads - number + 1) / f64::from(number) * rate / (1.0 - rate);
                sum += term;
            }
            sum
        };
        for (errors, reads) in [(1, 20), (3, 20), (7, 100), (19, 20), (2, 800)] {
            let (least, most) = ends(errors, reads);
            assert!((at_most(errors, reads, most) - 0.025).abs() < 1e-6, "{errors} of {reads}: {most}");
            assert!((1.0 - at_most(errors - 1, reads, least) - 0.025).abs() < 1e-6, "{errors} of {reads}: {least}");
        }
        let (least, most) = ends(1, 20);
        assert!((least - 0.00127).abs() < 5e-6 && (most - 0.2487).abs() < 5e-5, "{least} {most}");
    }

    #[test]
    fn all_failures_mirror_none_and_nonsense_gives_nothing() {
        let ((none_least, none_most), (all_least, all_most)) = (ends(0, 50), ends(50, 50));
        assert!((all_least - (1.0 - none_most)).abs() < 1e-9 && all_most == 1.0 && none_least == 0.0);
        assert_eq!((ErrorRate::of(0, 0), ErrorRate::of(2, 1)), (None, None));
    }
}
