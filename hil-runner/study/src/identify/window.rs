//! The last rounds of readings, and how far each sensor has departed in them.

use std::collections::VecDeque;

use super::chance::chance_of_departure;
use super::rules::{
    BASELINE, BASELINE_COARSE, COARSE_CELSIUS, LEAST_STEPS, OLDEST_NS, REST_CELSIUS, REST_ERRORS, TOGETHER,
};
use crate::drift_free_deviation;

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// What was read.
    pub celsius: f64,
    /// The step that its readings come in.
    pub step_celsius: f64,
}

/// A round: when, and what each sensor read, always in the same order.
#[derive(Clone, Debug)]
struct Round {
    at_ns: u64,
    readings: Vec<Option<Reading>>,
}

/// How a sensor rests.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rest {
    /// It has not been watched for long enough.
    Unknown,
    /// It rests.
    Resting,
    /// It moves.
    Moving,
    /// It did not give a number each time.
    Silent,
}

/// How far a sensor has departed, over the last rounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Departure {
    /// Mean over those rounds, without what the others have in common, but never more than the sensor has moved.
    pub(super) celsius: f64,
    /// Mean of what the others have in common.
    pub(super) common_celsius: f64,
    /// Standard deviation of one reading at rest.
    pub(super) deviation_celsius: f64,
    /// The step of its readings.
    pub(super) step_celsius: f64,
    /// Whether each of those rounds departs to the same side, by half the mean or more.
    pub(super) is_steady: bool,
}

impl Departure {
    /// The chance that noise alone makes any of so many sensors depart so far in any round, of which this is the `round`th.
    pub(super) fn chance(&self, sensors: usize, round: u32) -> f64 {
        chance_of_departure(self.celsius, self.deviation_celsius, sensors, round)
    }

    /// Least departure that is no matter of rounding.
    pub(super) fn least_celsius(&self, asked_celsius: f64) -> f64 {
        asked_celsius.max(LEAST_STEPS * self.step_celsius)
    }
}

/// How a reading differs from the mean of its sensor.
#[derive(Clone, Copy, Debug)]
struct Differs {
    /// As it was read.
    whole: f64,
    /// Without what the others have in common.
    own: f64,
    /// That.
    common: f64,
}

/// The last rounds.
#[derive(Clone, Debug, Default)]
pub(super) struct ReadingWindow {
    rounds: VecDeque<Round>,
    /// Whether there is a baseline: before, only the last rounds matter.
    has_begun: bool,
    /// Where the rounds begin in which a sensor moves: they are no baseline for any.
    stirred_from: Option<usize>,
}

impl ReadingWindow {
    pub(super) fn add(&mut self, at_ns: u64, readings: &[Option<Reading>]) {
        if let Some(from) = self.stirred_from {
            while self.rounds.len() - from >= TOGETHER {
                self.rounds.remove(from);
            }
        }
        self.rounds.push_back(Round { at_ns, readings: readings.to_vec() });
        if self.stirred_from.is_some() {
            return;
        }
        let is_old = |rounds: &VecDeque<Round>| {
            rounds.get(BASELINE).is_some_and(|round| at_ns.saturating_sub(round.at_ns) > OLDEST_NS)
        };
        let least = if self.has_begun { BASELINE + TOGETHER } else { BASELINE_COARSE };
        while self.rounds.len() > least && is_old(&self.rounds) {
            self.rounds.pop_front();
        }
    }

    /// A sensor moves: the baseline stays what it is. Else what is held for long would become the baseline, and letting go of it
    /// would look like taking it.
    pub(super) fn stir(&mut self) {
        self.stirred_from.get_or_insert(self.rounds.len());
    }

    /// None moves any more.
    pub(super) fn calm(&mut self) {
        self.stirred_from = None;
    }

    /// Keeps only the last rounds, as a baseline for what comes.
    pub(super) fn begin(&mut self) {
        self.has_begun = true;
        while self.rounds.len() > BASELINE {
            self.rounds.pop_front();
        }
    }

    fn width(&self) -> usize {
        self.rounds.back().map_or(0, |round| round.readings.len())
    }

    fn step(&self, sensor: usize) -> f64 {
        let steps = self.rounds.iter().filter_map(|round| round.readings[sensor]).map(|reading| reading.step_celsius);
        steps.fold(0.0, f64::max)
    }

    /// What a sensor read in these rounds; none if one is missing.
    fn readings(&self, sensor: usize, from: usize, count: usize) -> Option<Vec<f64>> {
        (from..from + count)
            .map(|round| Some(self.rounds.get(round)?.readings[sensor]?.celsius))
            .collect::<Option<Vec<f64>>>()
    }

    /// The means over these rounds of all sensors that gave a number in each of them.
    fn means(&self, from: usize, count: usize) -> Vec<Option<f64>> {
        let mean = |values: Vec<f64>| values.iter().sum::<f64>() / count as f64;
        (0..self.width()).map(|sensor| self.readings(sensor, from, count).map(mean)).collect()
    }

    /// What sensors other than this one have in common in a round, beyond their means. One alone has nothing in common.
    fn common(&self, of: usize, round: usize, means: &[Option<f64>]) -> f64 {
        let readings = &self.rounds[round].readings;
        let mut others: Vec<f64> = (0..means.len())
            .filter(|other| *other != of)
            .filter_map(|other| Some(readings[other]?.celsius - means[other]?))
            .collect();
        if others.len() < 2 { 0.0 } else { median_nearer_to_zero(&mut others) }
    }

    /// How each of these rounds differs from the mean.
    fn departures(&self, sensor: usize, rounds: (usize, usize), means: &[Option<f64>]) -> Option<Vec<Differs>> {
        let mean = means[sensor]?;
        let readings = self.readings(sensor, rounds.0, rounds.1)?;
        let differs = |(value, round): (f64, usize)| {
            let common = self.common(sensor, round, means);
            Differs { whole: value - mean, own: value - mean - common, common }
        };
        Some(readings.into_iter().zip(rounds.0..).map(differs).collect())
    }

    /// Whether a sensor rests, by the last rounds.
    pub(super) fn rest(&self, sensor: usize) -> Rest {
        let step = self.step(sensor);
        let count = if step > COARSE_CELSIUS { BASELINE_COARSE } else { BASELINE };
        if self.rounds.len() < count {
            return Rest::Unknown;
        }
        let from = self.rounds.len() - count;
        let means = self.means(from, count);
        let Some(departures) = self.departures(sensor, (from, count), &means) else { return Rest::Silent };
        let half = count / 2;
        let drift_of =
            |part: &dyn Fn(&Differs) -> f64| mean(&departures[half..], part) - mean(&departures[..half], part);
        let drift = at_most(drift_of(&|differs| differs.own), drift_of(&|differs| differs.whole)).abs();
        let own: Vec<f64> = departures.iter().map(|differs| differs.own).collect();
        let noise = drift_free_deviation(&[&own]).unwrap_or(0.0) * (2.0 / half as f64).sqrt();
        // Of a coarse sensor the steps say more than the noise that they make.
        let allowed = if count == BASELINE_COARSE { step / 2.0 } else { f64::max(REST_CELSIUS, REST_ERRORS * noise) };
        if drift <= allowed { Rest::Resting } else { Rest::Moving }
    }

    /// How far each of these sensors has departed; none for those without a baseline or without a number in the last rounds.
    pub(super) fn departed(&self, takes_part: &[bool]) -> Vec<Option<Departure>> {
        let Some(last) = self.rounds.len().checked_sub(TOGETHER).filter(|last| *last >= BASELINE) else {
            return vec![None; self.width()];
        };
        // Those who answer now are the same whose baselines are compared: one that has fallen silent has nothing in common with anybody.
        let means: Vec<Option<f64>> = self
            .means(0, BASELINE)
            .into_iter()
            .zip(self.means(last, TOGETHER))
            .zip(takes_part)
            .map(|((before, now), takes_part)| before.filter(|_| *takes_part && now.is_some()))
            .collect();
        (0..self.width())
            .map(|sensor| {
                let before = self.departures(sensor, (0, BASELINE), &means)?;
                let now = self.departures(sensor, (last, TOGETHER), &means)?;
                // The common part is a median, so the baseline's own part need not have the mean zero.
                let centre = mean(&before, &|differs| differs.own);
                let squares: f64 = before.iter().map(|differs| (differs.own - centre).powi(2)).sum();
                let step = self.step(sensor);
                let own = mean(&now, &|differs| differs.own) - centre;
                Some(Departure {
                    celsius: at_most(own, mean(&now, &|differs| differs.whole)),
                    common_celsius: mean(&now, &|differs| differs.common),
                    deviation_celsius: (squares / (BASELINE - 1) as f64 + step * step / 12.0).sqrt(),
                    step_celsius: step,
                    is_steady: now.iter().all(|differs| (differs.own - centre) * own.signum() >= own.abs() / 2.0),
                })
            })
            .collect()
    }
}

fn mean(differences: &[Differs], part: &dyn Fn(&Differs) -> f64) -> f64 {
    differences.iter().map(part).sum::<f64>() / differences.len() as f64
}

/// What is a sensor's own, but no more than the whole: what others have in common may explain that a sensor moves, but does not
/// make one move that stays where it was.
fn at_most(own: f64, whole: f64) -> f64 {
    own.clamp(whole.min(0.0), whole.max(0.0))
}

const _: () = assert!(
    BASELINE.is_multiple_of(2) && BASELINE_COARSE.is_multiple_of(2),
    "what is looked at for rest has two halves"
);

/// The middle one; of an even number, of the two in the middle the one that is nearer to zero, and zero between two sides.
fn median_nearer_to_zero(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    let half = values.len() / 2;
    let Some(upper) = values.get(half).copied() else { return 0.0 };
    if !values.len().is_multiple_of(2) {
        return upper;
    }
    let lower = values[half - 1];
    if lower > 0.0 {
        lower
    } else if upper < 0.0 {
        upper
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_an_even_number_the_one_nearer_to_zero_is_taken() {
        for (values, expected) in [
            (vec![], 0.0),
            (vec![3.0], 3.0),
            (vec![5.0, 1.0], 1.0),
            (vec![-5.0, -1.0], -1.0),
            (vec![-5.0, 1.0], 0.0),
            (vec![9.0, 1.0, 2.0], 2.0),
        ] {
            assert_eq!(median_nearer_to_zero(&mut values.clone()), expected, "{values:?}");
        }
    }

    #[test]
    fn a_baseline_is_never_older_than_it_may_be() {
        let mut window = ReadingWindow::default();
        window.begin();
        for second in 0..200_u64 {
            window.add(second * 1_000_000_000, &[None]);
            let end = window.rounds.get(BASELINE - 1).map_or(second, |round| round.at_ns / 1_000_000_000);
            assert!(second - end <= 42, "{second}: {end}");
        }
    }

    /// The common part is a median: two others that spread unlike each other have one whose mean is not zero, though theirs are.
    #[test]
    fn what_the_baseline_had_of_its_own_is_no_departure() {
        let mut window = ReadingWindow::default();
        let read = |celsius: f64| Some(Reading { celsius, step_celsius: 0.0 });
        for round in 0..BASELINE {
            let one = if round < 3 { 2.0 } else { -2.0 / 3.0 };
            let other = if round < 6 { 1.0 } else { -1.0 };
            window.add(round as u64, &[read(20.0), read(one), read(other)]);
        }
        window.begin();
        for round in 0..TOGETHER {
            window.add((BASELINE + round) as u64, &[read(25.0), read(0.0), read(0.0)]);
        }
        // In common: 1 in three rounds, 0 in three, -2/3 in six; in the mean -1/12.
        let celsius = window.departed(&[true; 3])[0].unwrap().celsius;
        assert!((celsius - (5.0 - 1.0 / 12.0)).abs() < 1e-9, "{celsius}");
    }
}
