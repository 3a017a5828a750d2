//! What readings at rest do, and how much of it steps alone explain.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::Resolution;

use super::datasheet::step_celsius;
use super::measure::MeasuredSensors;
use super::spread::drift_free_deviation;

/// Readings at rest at one resolution.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct NoiseRow {
    /// The resolution; none for a DS18S20.
    pub resolution_bits: Option<u8>,
    /// The step.
    pub step_celsius: f64,
    /// How many readings there were, of all sensors.
    pub readings: u32,
    /// How many differences between a reading and the next of the same sensor.
    pub differences: u32,
    /// Standard deviation, from those differences over the root of 2, so that a slow drift falls out. None without a difference.
    pub deviation_celsius: Option<f64>,
    /// Standard error of that, as a share of it, from the number of differences: root of 3 / (4 n) for normal noise.
    pub deviation_error_share: Option<f64>,
    /// The same deviation of the one sensor whose is largest.
    pub largest_celsius: Option<f64>,
    /// What cutting to steps alone does to values that may be anywhere in a step: step / root of 12.
    pub quantisation_celsius: f64,
    /// What is left.
    pub source: NoiseSource,
    /// Standard deviation of the sensors' own noise, as far as it shows.
    pub own_celsius: Option<f64>,
}

/// Where the noise seen can come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum NoiseSource {
    /// There were too few readings.
    NotMeasured,
    /// None was seen: all readings of each sensor were the same. Noise far below the step hides in it.
    None,
    /// Steps alone explain it: a temperature at the edge of a step changes between two values, whose standard deviation is up to
    /// half a step, however small the noise; twice the standard error is allowed on that.
    StepsAlone,
    /// The sensors' own noise is part of it.
    Sensors,
}

/// A row for each resolution at which a sensor was read.
#[must_use]
pub fn noise_rows(measured: &MeasuredSensors) -> Vec<NoiseRow> {
    let settings = Resolution::ALL.into_iter().map(Some).chain([None]);
    settings
        .filter(|resolution| measured.series.iter().any(|series| series.resolution == *resolution))
        .map(|resolution| {
            let celsius: Vec<Vec<f64>> = measured
                .series
                .iter()
                .filter(|series| series.resolution == resolution)
                .map(|series| series.sixteenths.iter().map(|sixteenths| f64::from(*sixteenths) / 16.0).collect())
                .collect();
            let series: Vec<&[f64]> = celsius.iter().map(Vec::as_slice).collect();
            noise_of(resolution, &series)
        })
        .collect()
}

/// What these readings, a series for each sensor, say of noise.
#[must_use]
pub fn noise_of(resolution: Option<Resolution>, series: &[&[f64]]) -> NoiseRow {
    let step = step_celsius(resolution);
    let quantisation = step / 12.0_f64.sqrt();
    let deviation = drift_free_deviation(series);
    let differences = series.iter().map(|values| values.len().saturating_sub(1)).sum::<usize>();
    // The variance from n differences of normal values has a variance of 3 / n of its square (von Neumann 1941, from memory).
    let error_share = (3.0 / (4.0 * differences.max(1) as f64)).sqrt();
    let (source, own) = match deviation {
        None => (NoiseSource::NotMeasured, None),
        Some(0.0) => (NoiseSource::None, None),
        Some(seen) if seen <= step / 2.0 * (1.0 + 2.0 * error_share) => (NoiseSource::StepsAlone, None),
        // Variances add where the noise is no smaller than half a step (Sheppard's correction; common practice).
        Some(seen) => (NoiseSource::Sensors, Some((seen.powi(2) - quantisation.powi(2)).sqrt())),
    };
    let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    NoiseRow {
        resolution_bits: resolution.map(Resolution::bits),
        step_celsius: step,
        readings: count(series.iter().map(|values| values.len()).sum()),
        differences: count(differences),
        deviation_celsius: deviation,
        deviation_error_share: deviation.map(|_| error_share),
        largest_celsius: series.iter().filter_map(|values| drift_free_deviation(&[*values])).reduce(f64::max),
        quantisation_celsius: quantisation,
        source,
        own_celsius: own,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TWELVE: Option<Resolution> = Some(Resolution::Bits12);

    /// 0.0625 / root of 12 = 0.018042; 0.5 / root of 12 = 0.144338.
    #[test]
    fn a_step_alone_is_worth_its_twelfth() {
        let quantisation = |resolution| noise_of(resolution, &[]).quantisation_celsius;
        assert!((quantisation(TWELVE) - 0.018_042).abs() < 1e-6);
        assert!((quantisation(Some(Resolution::Bits9)) - 0.144_338).abs() < 1e-6);
        // The counters of a DS18S20 go as fine as 12 bits.
        assert!((quantisation(None) - 0.018_042).abs() < 1e-6);
    }

    #[test]
    fn readings_that_never_change_show_no_noise() {
        let row = noise_of(TWELVE, &[&[20.0, 20.0, 20.0], &[21.0, 21.0]]);
        assert_eq!(
            (row.source, row.deviation_celsius, row.readings, row.differences),
            (NoiseSource::None, Some(0.0), 5, 3)
        );
        assert_eq!(noise_of(TWELVE, &[&[20.0]]).source, NoiseSource::NotMeasured);
    }

    /// Differences 0.0625 and 0: squares 0.00390625 and 0 over 2 x 2, whose root is 0.03125, half a step.
    #[test]
    fn a_value_at_the_edge_of_a_step_is_explained_by_the_step() {
        let row = noise_of(TWELVE, &[&[20.0, 20.0625, 20.0625]]);
        assert_eq!(
            (row.deviation_celsius, row.source, row.own_celsius),
            (Some(0.03125), NoiseSource::StepsAlone, None)
        );
    }

    #[test]
    fn the_sensor_with_most_noise_is_not_lost_among_the_others() {
        // Squares 0.0625 over 2 is 0.03125, whose root is 0.176777; pooled with as many zeros, 0.125.
        let row = noise_of(TWELVE, &[&[20.0, 20.0, 20.0], &[20.0, 20.25, 20.0]]);
        assert!((row.largest_celsius.unwrap() - 0.176_777).abs() < 1e-6, "{row:?}");
        assert_eq!(row.deviation_celsius, Some(0.125));
    }

    /// Of 12 differences the standard error is the root of 3 / 48, 25 %: half a step and a half of it are 0.046875. Squares of 0.0625
    /// twelve times over 24 give 0.044194, which may be the step alone.
    #[test]
    fn a_little_more_than_half_a_step_is_no_proof() {
        let flips: Vec<f64> = (0..13).map(|index| if index % 2 == 0 { 20.0 } else { 20.0625 }).collect();
        let row = noise_of(TWELVE, &[&flips]);
        assert_eq!((row.deviation_error_share, row.source), (Some(0.25), NoiseSource::StepsAlone));
        assert!((row.deviation_celsius.unwrap() - 0.044_194).abs() < 1e-6);
    }

    /// Differences of 0.25 all along: the root of 0.0625 / 2 is 0.176777; less 0.018042 squared it is 0.175854.
    #[test]
    fn noise_beyond_the_step_is_the_sensors_own() {
        let row = noise_of(TWELVE, &[&[20.0, 20.25, 20.0, 20.25]]);
        assert_eq!(row.source, NoiseSource::Sensors);
        assert!((row.own_celsius.unwrap() - 0.175_854).abs() < 1e-6, "{row:?}");
    }
}
