//! The steps in which a capture was sampled.

/// Rates of logic analysers in megahertz, slowest first: common practice. The steps of some are no whole number of nanoseconds.
const RATES_MHZ: [u64; 24] = [1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 16, 20, 24, 25, 30, 32, 40, 48, 50, 60, 64, 80, 96, 100];
/// So many changes have to fit (chosen): one in three does by chance at the fastest of these rates.
const ENOUGH: u64 = 40;
/// Of fewer changes than this no step above a microsecond is taken for sure (chosen).
const FEW: u64 = 10;

/// The times of changes, as far as they show steps.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Steps {
    first_ns: Option<u64>,
    common_ns: u64,
    changes: u64,
    misfits: [bool; RATES_MHZ.len()],
}

impl Steps {
    /// Takes the time of a change.
    pub(super) fn take(&mut self, at_ns: u64) {
        let since_ns = at_ns.abs_diff(*self.first_ns.get_or_insert(at_ns));
        if since_ns == 0 {
            return;
        }
        self.changes += 1;
        self.common_ns = gcd(self.common_ns, since_ns);
        for (rate, is_misfit) in RATES_MHZ.into_iter().zip(&mut self.misfits) {
            // A time was rounded to a nanosecond, and so was the first.
            let beyond = u128::from(since_ns) * u128::from(rate) % 1_000;
            *is_misfit |= beyond.min(1_000 - beyond) > u128::from(rate);
        }
    }

    /// The steps in nanoseconds, rounded up: the common measure of all times, or the step of a rate that they all fit when they have none
    /// because they were rounded. None: there were no changes.
    pub(super) fn step_ns(&self) -> Option<u64> {
        let fitting = RATES_MHZ.into_iter().zip(self.misfits).find(|(_, is_misfit)| !is_misfit);
        match fitting {
            Some((rate, _)) if 1_000 % rate != 0 && self.common_ns <= 2 && self.changes >= ENOUGH => {
                Some(1_000_u64.div_ceil(rate))
            }
            // A few times have a common measure by chance.
            _ if self.changes < FEW => (self.common_ns > 0).then_some(self.common_ns.min(1_000)),
            _ => (self.common_ns > 0).then_some(self.common_ns),
        }
    }
}

fn gcd(mut one: u64, mut other: u64) -> u64 {
    while other != 0 {
        (one, other) = (other, one % other);
    }
    one
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(times: impl IntoIterator<Item = u64>) -> Option<u64> {
        let mut steps = Steps::default();
        times.into_iter().for_each(|at| steps.take(at));
        steps.step_ns()
    }

    /// So many different numbers of samples.
    fn samples() -> impl Iterator<Item = u64> {
        (0..200).map(|number: u64| 17 + number * number * 7 + number * 2)
    }

    #[test]
    fn a_rate_without_whole_nanoseconds_is_found() {
        for (rate, expected) in [(3, 334), (12, 84), (24, 42), (16, 63), (48, 21), (96, 11)] {
            // Rounded down, and to the nearest.
            assert_eq!(step(samples().map(|sample| sample * 1_000 / rate)), Some(expected), "{rate} MHz");
            assert_eq!(step(samples().map(|sample| (sample * 1_000 + rate / 2) / rate)), Some(expected), "{rate} MHz");
        }
    }

    #[test]
    fn whole_steps_and_times_that_fit_nothing_stay_what_they_are() {
        assert_eq!(step(samples().map(|sample| sample * 125)), Some(125));
        assert_eq!(step(samples().map(|sample| sample * 1_000)), Some(1_000));
        assert_eq!(step(samples().map(|sample| sample * sample % 1_000_003)), Some(1));
        assert_eq!(step(samples().map(|sample| sample * 1_000 + sample % 2)), Some(1), "a microsecond, and not quite");
        assert_eq!(step([0, 41, 83]), Some(1), "too few to tell");
        assert_eq!(step([7]), None);
    }
}
