//! Agreement: how far the readings of several sensors lie apart.

use super::MeasuredSensor;
use super::distance::Distance;
use super::expected::celsius_span;
use slotwise_record::{Check, Ruling, Subject, Verdict};

/// Verdict on the distance between the largest and the smallest reading.
#[must_use]
pub(super) fn agreement(results: &[MeasuredSensor], within_millicelsius: u32) -> Verdict {
    let readings: Vec<(Distance, String, &Subject)> = results
        .iter()
        .filter_map(|result| {
            let sample = result.outcome.as_ref().ok()?;
            let sixteenths = i32::from(sample.sixteenths);
            let from_zero = Distance::from_reference(sixteenths, 0).corrected_by(result.correction_millicelsius());
            Some((from_zero, result.shown(sixteenths), &result.subject))
        })
        .collect();
    let expected = format!("all within {} of each other", celsius_span(within_millicelsius));
    let lowest = readings.iter().min_by_key(|(from_zero, ..)| *from_zero);
    let highest = readings.iter().max_by_key(|(from_zero, ..)| *from_zero);
    let (Some((low, low_shown, low_name)), Some((high, high_shown, high_name)), true) =
        (lowest, highest, readings.len() > 1)
    else {
        let got = format!("{} of {} sensors read", readings.len(), results.len());
        let verdict = Verdict::new(Check::Agree, expected, "scenario", got, Ruling::NotMet);
        return if readings.len() < results.len() { verdict.lost() } else { verdict };
    };
    let span = high.minus(*low);
    let got = format!("{} apart: {low_shown} at {low_name}, {high_shown} at {high_name}", span.text());
    let is_met = span.is_within(within_millicelsius);
    let is_corrected = results.iter().any(|result| result.correction.is_some());
    let source = if is_corrected { "scenario; corrections of the rig file added" } else { "scenario" };
    Verdict::new(Check::Agree, expected, source, got, Ruling::met_if(is_met))
}
