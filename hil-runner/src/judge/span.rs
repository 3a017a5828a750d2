//! Agreement: how far the readings of several sensors lie apart.

use super::distance::Distance;
use super::expected::celsius_span;
use super::{Check, Measured, Ruling, Subject, Verdict};
use crate::record::units::celsius_of_sixteenths;

/// Verdict on the distance between the largest and the smallest reading.
#[must_use]
pub(super) fn agreement(results: &[Measured], within_millicelsius: u32) -> Verdict {
    let readings: Vec<(i32, &Subject)> = results
        .iter()
        .filter_map(|result| result.outcome.as_ref().ok().map(|sample| (i32::from(sample.sixteenths), &result.subject)))
        .collect();
    let expected = format!("all within {} of each other", celsius_span(within_millicelsius));
    let lowest = readings.iter().min_by_key(|(sixteenths, _)| *sixteenths);
    let highest = readings.iter().max_by_key(|(sixteenths, _)| *sixteenths);
    let (Some((low, low_name)), Some((high, high_name)), true) = (lowest, highest, readings.len() > 1) else {
        let got = format!("{} of {} sensors read", readings.len(), results.len());
        let verdict = Verdict::new(Check::Agree, expected, "scenario", got, Ruling::NotMet);
        return if readings.len() < results.len() { verdict.lost() } else { verdict };
    };
    let span = high - low;
    let got = format!(
        "{} apart: {} at {low_name}, {} at {high_name}",
        celsius_of_sixteenths(span),
        celsius_of_sixteenths(*low),
        celsius_of_sixteenths(*high)
    );
    let is_met = Distance::of_sixteenths(span).is_within(within_millicelsius);
    Verdict::new(Check::Agree, expected, "scenario", got, Ruling::met_if(is_met))
}
