//! When a bath counts as stirred and stable: a criterion of our own.
//!
//! The latest readings are judged, a *window*: the shortest that lasts as long as the scenario requires and has
//! [`LEAST_ROUNDS`] rounds. The bath is stable if every sensor gave a number in every round of it, and
//!
//! - the readings of each sensor lie within the span allowed,
//! - the mean of each sensor in the later half of the window differs from that in the earlier half, its *drift*, by no more than
//!   a quarter of that span, and
//! - so does the distance between the warmest and the coldest sensor, the *spread*: in a bath that is not stirred, sensors drift
//!   apart or towards each other.
//!
//! A steady slope across the whole span has a drift of half of it, so a quarter separates noise from a slope.
//! What a sensor reads there is the mean of the later half; the earlier one only shows that it has settled.

use std::collections::VecDeque;

/// Fewest rounds of a window. Chosen: four in each half separate a slope from noise.
pub const LEAST_ROUNDS: usize = 8;
/// Rounds that a window is divided into. Chosen: enough for a mean to a few thousandths.
const ROUNDS: u64 = 40;
/// Readings closer together warm a sensor in still air (common practice: one per second, or slower).
const LEAST_SPACING_MS: u64 = 1_000;

/// From the beginning of one round of readings to that of the next, for a window of this length.
#[must_use]
pub const fn spacing_ms(window_ms: u64) -> u64 {
    let spacing = window_ms / ROUNDS;
    if spacing < LEAST_SPACING_MS { LEAST_SPACING_MS } else { spacing }
}

/// What a bath is required to meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Steadiness {
    /// Largest minus smallest reading of one sensor.
    pub within_millicelsius: u32,
    /// For how long.
    pub window_ns: u64,
}

/// Whether a bath is stable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stir {
    /// It is.
    Stable,
    /// It is not, or not yet for long enough.
    Moving,
}

/// One sensor in a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SensorInBath {
    /// Readings in the window.
    pub readings: u32,
    /// Mean of its later half, to the nearest thousandth of a degree.
    pub mean_millicelsius: i32,
    /// Largest minus smallest reading.
    pub span_millicelsius: u32,
    /// Mean of the later half minus that of the earlier one.
    pub drift_millicelsius: i32,
}

/// The window, as it moves along.
#[derive(Clone, Debug)]
pub struct Bath {
    steadiness: Steadiness,
    /// Time and the sixteenths of a degree of each sensor.
    rounds: VecDeque<(u64, Vec<i16>)>,
}

/// A sum and how many went into it.
#[derive(Clone, Copy, Debug)]
struct Mean {
    sum: i64,
    count: i64,
}

impl Mean {
    /// Thousandths of a degree, of sixteenths, rounded half away from zero.
    fn millicelsius(sixteenths: i64, of: i64) -> i32 {
        let doubled = sixteenths * 125;
        // (doubled / 2) / of; a temperature or a difference of two, far inside 32 bits.
        ((doubled + doubled.signum() * of) / (2 * of)) as i32
    }
}

/// A difference of two means in sixteenths of a degree: `difference / of`.
#[derive(Clone, Copy, Debug)]
struct Drift {
    difference: i64,
    of: i64,
}

impl Drift {
    const fn between(later: Mean, earlier: Mean) -> Self {
        Self { difference: later.sum * earlier.count - earlier.sum * later.count, of: later.count * earlier.count }
    }

    /// Whether it is at most a quarter of a span: exactly, in fractions.
    fn is_within_quarter_of(self, millicelsius: u32) -> bool {
        // |difference| / of * 62.5 <= millicelsius / 4
        self.difference.abs() * 250 <= i64::from(millicelsius) * self.of
    }

    fn millicelsius(self) -> i32 {
        Mean::millicelsius(self.difference, self.of)
    }
}

impl Bath {
    /// A bath of which nothing is known yet.
    #[must_use]
    pub const fn new(steadiness: Steadiness) -> Self {
        Self { steadiness, rounds: VecDeque::new() }
    }

    /// Takes note of a round of readings, always of the same sensors in the same order. A sensor that gave no number ends the
    /// window: a new one begins.
    pub fn add(&mut self, at_ns: u64, sixteenths: &[Option<i16>]) -> Stir {
        let Some(numbers) = sixteenths.iter().copied().collect::<Option<Vec<i16>>>() else {
            self.rounds.clear();
            return Stir::Moving;
        };
        self.rounds.push_back((at_ns, numbers));
        while self.rounds.len() > LEAST_ROUNDS && self.lasts_ns(1) >= self.steadiness.window_ns {
            self.rounds.pop_front();
        }
        if self.is_stable() { Stir::Stable } else { Stir::Moving }
    }

    /// How many rounds the window has.
    #[must_use]
    pub fn rounds(&self) -> usize {
        self.rounds.len()
    }

    /// How long the window lasts.
    #[must_use]
    pub fn window_ns(&self) -> u64 {
        self.lasts_ns(0)
    }

    fn lasts_ns(&self, from: usize) -> u64 {
        let ends = self.rounds.get(from).zip(self.rounds.back());
        ends.map_or(0, |((first_ns, _), (last_ns, _))| last_ns.saturating_sub(*first_ns))
    }

    /// Each sensor in the window; none while it holds fewer than two rounds.
    #[must_use]
    pub fn sensors(&self) -> Vec<SensorInBath> {
        if self.rounds.len() < 2 {
            return Vec::new();
        }
        (0..self.width())
            .map(|sensor| {
                let later = self.half(sensor, Half::Later);
                SensorInBath {
                    readings: self.rounds.len() as u32,
                    mean_millicelsius: Mean::millicelsius(later.sum, later.count),
                    // A difference of two readings: not negative, and far inside 32 bits.
                    span_millicelsius: Mean::millicelsius(self.span(sensor), 1).unsigned_abs(),
                    drift_millicelsius: self.drift(sensor).millicelsius(),
                }
            })
            .collect()
    }

    /// By how much the distance between warmest and coldest sensor has changed from the earlier half to the later one.
    #[must_use]
    pub fn spread_drift_millicelsius(&self) -> i32 {
        if self.rounds.len() < 2 { 0 } else { self.spread_drift().millicelsius() }
    }

    fn width(&self) -> usize {
        self.rounds.front().map_or(0, |(_, numbers)| numbers.len())
    }

    fn is_stable(&self) -> bool {
        let Steadiness { within_millicelsius, window_ns } = self.steadiness;
        // A span of sixteenths: * 62.5 thousandths.
        let is_narrow = |sensor| self.span(sensor) * 125 <= 2 * i64::from(within_millicelsius);
        let is_level = |sensor| self.drift(sensor).is_within_quarter_of(within_millicelsius);
        self.rounds.len() >= LEAST_ROUNDS
            && self.lasts_ns(0) >= window_ns
            && (0..self.width()).all(|sensor| is_narrow(sensor) && is_level(sensor))
            && self.spread_drift().is_within_quarter_of(within_millicelsius)
    }

    fn numbers(&self, sensor: usize) -> impl Iterator<Item = i64> {
        self.rounds.iter().map(move |(_, numbers)| i64::from(numbers[sensor]))
    }

    fn span(&self, sensor: usize) -> i64 {
        let (least, most) = (self.numbers(sensor).min(), self.numbers(sensor).max());
        most.zip(least).map_or(0, |(most, least)| most - least)
    }

    /// Of an odd number of rounds the middle one belongs to the later half.
    fn half(&self, sensor: usize, half: Half) -> Mean {
        let earlier = self.rounds.len() / 2;
        match half {
            Half::Earlier => Mean { sum: self.numbers(sensor).take(earlier).sum(), count: earlier as i64 },
            Half::Later => {
                Mean { sum: self.numbers(sensor).skip(earlier).sum(), count: (self.rounds.len() - earlier) as i64 }
            }
        }
    }

    fn drift(&self, sensor: usize) -> Drift {
        Drift::between(self.half(sensor, Half::Later), self.half(sensor, Half::Earlier))
    }

    fn spread_drift(&self) -> Drift {
        Drift::between(self.spread(Half::Later), self.spread(Half::Earlier))
    }

    /// From the coldest to the warmest sensor.
    fn spread(&self, half: Half) -> Mean {
        let means = || (0..self.width()).map(|sensor| self.half(sensor, half));
        let count = means().next().map_or(1, |mean| mean.count);
        let sums = || means().map(|mean| mean.sum);
        Mean { sum: sums().max().unwrap_or(0) - sums().min().unwrap_or(0), count }
    }
}

/// Half of a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Half {
    Earlier,
    Later,
}

#[cfg(test)]
mod tests {
    use super::*;

    const SECOND_NS: u64 = 1_000_000_000;

    /// What is said after the last of these rounds of one or more sensors, one each second.
    fn after(within_millicelsius: u32, window_s: u64, rounds: &[&[i16]]) -> Stir {
        let mut bath = Bath::new(Steadiness { within_millicelsius, window_ns: window_s * SECOND_NS });
        let mut stir = Stir::Moving;
        for (numbers, at) in rounds.iter().zip(0..) {
            let numbers: Vec<Option<i16>> = numbers.iter().copied().map(Some).collect();
            stir = bath.add(at * SECOND_NS, &numbers);
        }
        stir
    }

    #[test]
    fn a_bath_is_stable_once_it_was_for_long_enough_and_not_a_second_before() {
        let rounds: Vec<&[i16]> = vec![&[0, 1]; 11];
        assert_eq!(after(100, 10, &rounds), Stir::Stable);
        assert_eq!(after(100, 10, &rounds[1..]), Stir::Moving);
    }

    #[test]
    fn a_short_window_has_its_rounds_all_the_same() {
        let rounds: Vec<&[i16]> = vec![&[0]; LEAST_ROUNDS];
        assert_eq!(after(100, 2, &rounds), Stir::Stable);
        assert_eq!(after(100, 2, &rounds[1..]), Stir::Moving);
    }

    #[test]
    fn a_span_may_be_as_large_as_allowed_and_no_larger() {
        // Two steps of 0.0625 degC, up and down evenly: 0.125 degC, no drift.
        let rounds: Vec<&[i16]> = [&[0_i16][..], &[2]].repeat(6);
        assert_eq!(after(125, 10, &rounds), Stir::Stable);
        assert_eq!(after(124, 10, &rounds), Stir::Moving);
    }

    #[test]
    fn a_drift_may_be_a_quarter_of_the_span_and_no_more() {
        // The later half reads one step, 0.0625 degC, more: a quarter of 0.25 degC.
        let rounds: Vec<&[i16]> = [&[0_i16][..]].repeat(6).into_iter().chain([&[1_i16][..]].repeat(6)).collect();
        assert_eq!(after(250, 11, &rounds), Stir::Stable);
        assert_eq!(after(249, 11, &rounds), Stir::Moving);
        // A steady slope that keeps within the span: 0.1875 of 0.25 degC, and a drift of 0.09 degC.
        let slope: Vec<[i16; 1]> = (0..12).map(|at| [at / 3]).collect();
        let slope: Vec<&[i16]> = slope.iter().map(|numbers| &numbers[..]).collect();
        assert_eq!(after(250, 11, &slope), Stir::Moving);
    }

    #[test]
    fn sensors_that_drift_apart_are_in_no_stirred_bath() {
        // Each drifts by one step, a quarter of 0.25 degC, but away from each other: the spread by two.
        let early: &[i16] = &[0, 10];
        let apart: Vec<&[i16]> = [early].repeat(6).into_iter().chain([&[-1_i16, 11][..]].repeat(6)).collect();
        assert_eq!(after(250, 11, &apart), Stir::Moving);
        let together: Vec<&[i16]> = [early].repeat(6).into_iter().chain([&[1_i16, 11][..]].repeat(6)).collect();
        assert_eq!(after(250, 11, &together), Stir::Stable);
    }

    #[test]
    fn a_sensor_without_a_number_begins_a_new_window() {
        let mut bath = Bath::new(Steadiness { within_millicelsius: 100, window_ns: 10 * SECOND_NS });
        for at in 0..10 {
            assert_eq!(bath.add(at * SECOND_NS, &[Some(0), Some(0)]), Stir::Moving);
        }
        assert_eq!(bath.add(10 * SECOND_NS, &[Some(0), None]), Stir::Moving);
        assert_eq!(bath.rounds(), 0);
        for at in 11..21 {
            assert_eq!(bath.add(at * SECOND_NS, &[Some(0), Some(0)]), Stir::Moving);
        }
        assert_eq!(bath.add(21 * SECOND_NS, &[Some(0), Some(0)]), Stir::Stable);
        assert_eq!((bath.rounds(), bath.window_ns()), (11, 10 * SECOND_NS));
    }

    #[test]
    fn what_a_sensor_reads_is_the_mean_of_the_later_half() {
        let mut bath = Bath::new(Steadiness { within_millicelsius: 100, window_ns: 10 * SECOND_NS });
        for at in 0..40_u64 {
            // 0.125 degC until half of the window has passed; then 0.0625 and 0 degC in turn. The window is rounds 29 to 39.
            let number = if at < 34 { 2 } else { i16::try_from(at % 2).expect("0 or 1") };
            bath.add(at * SECOND_NS, &[Some(number), Some(-1)]);
        }
        // Rounds 34 to 39: 0, 1, 0, 1, 0, 1: a mean of half a step, 0.031 25 degC; 0.125 degC before.
        let [falling, steady] = bath.sensors()[..] else { panic!("two sensors") };
        assert_eq!(
            falling,
            SensorInBath { readings: 11, mean_millicelsius: 31, span_millicelsius: 125, drift_millicelsius: -94 }
        );
        assert_eq!((steady.mean_millicelsius, steady.span_millicelsius, steady.drift_millicelsius), (-63, 0, 0));
        assert_eq!(bath.spread_drift_millicelsius(), -94);
    }
}
