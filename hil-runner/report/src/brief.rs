//! A passed step in one or two lines: enough to see what was done and what it was held against.

use std::collections::BTreeSet;

use super::look::Ink;
use super::step::heading;
use super::{MARGIN, TextLook};
use slotwise_record::{Check, Verdict};
use slotwise_record::{
    ConversionRecord, ReadNumber, ReadingOutcome, ReadingRecord, Rounds, SettingsRecord, StepData, StepRecord,
};
use slotwise_terms::units::{
    about_milliseconds, about_percent, celsius_of_sixteenths, count, hundredths, signed_thousandths,
};

/// The lines of a step that passed.
pub(super) fn tell(look: &TextLook, step: &StepRecord) -> Vec<String> {
    let mut lines = vec![heading(look, step)];
    let result = match &step.data {
        StepData::Search { searches, found } => Some(format!(
            "{} found{}",
            count(found.len(), "sensor"),
            if *searches > 1 { format!(", the same in each of {searches} searches") } else { String::new() }
        )),
        StepData::Readings { fixed_point: Some(found), .. } => {
            Some(super::fixed_point::sentence(found, &step.verdicts))
        }
        StepData::Readings { conversion, readings, .. } => {
            Some(measured(conversion.as_ref(), readings, &step.verdicts))
        }
        StepData::Settings { sensors } => Some(settings(sensors)),
        StepData::Rounds(rounds) => Some(repeated(rounds)),
        StepData::Nothing | StepData::FaultInjected { .. } | StepData::FaultCleared { .. } => None,
    };
    lines.extend(result.map(|text| Ink::Faint.on(look.wrap(MARGIN, &text))));
    lines
}

/// What was written was read back; where nothing was written, it was only looked at.
pub(super) fn settings(sensors: &[SettingsRecord]) -> String {
    let was_written = sensors.iter().any(|sensor| sensor.after.is_some());
    let what = if was_written { "what was written was read back" } else { "as expected" };
    format!("{}: {what}", count(sensors.len(), "sensor"))
}

fn repeated(rounds: &Rounds) -> String {
    let share = about_percent(rounds.failed, rounds.begun);
    format!("{} of {} failed ({share})", rounds.failed, count(rounds.begun as usize, "round"))
}

fn measured(conversion: Option<&ConversionRecord>, readings: &[ReadingRecord], verdicts: &[Verdict]) -> String {
    let numbers: Vec<&ReadNumber> = readings
        .iter()
        .filter_map(|reading| match &reading.outcome {
            ReadingOutcome::Read(number) => Some(number),
            ReadingOutcome::Failed(_) => None,
        })
        .collect();
    let mut parts = Vec::new();
    let sixteenths = || numbers.iter().map(|number| i32::from(number.sixteenths));
    if let (Some(lowest), Some(highest)) = (sixteenths().min(), sixteenths().max()) {
        let (from, to) = (celsius_of_sixteenths(lowest), celsius_of_sixteenths(highest));
        let span = if lowest == highest { from } else { format!("{from} to {to}") };
        parts.push(format!("{}, {span}{}", count(numbers.len(), "reading"), by_what_right(verdicts)));
    }
    let again = numbers.iter().filter(|number| number.measured_again > 0).count();
    if again > 0 {
        parts.push(format!("{again} measured again alone, for want of proof"));
    }
    let failed = readings.len() - numbers.len();
    if failed > 0 {
        parts.push(format!("{failed} without a reading, as expected"));
    }
    let corrections = || numbers.iter().filter_map(|number| number.correction_millicelsius);
    if let (Some(lowest), Some(highest)) = (corrections().min(), corrections().max()) {
        let (from, to) = (signed_thousandths(lowest), signed_thousandths(highest));
        let span = if lowest == highest { from } else { format!("{from} to {to}") };
        parts.push(format!("corrected by {span}"));
    }
    if let Some(worst) = worst_distance(verdicts.iter()) {
        parts.push(format!("off by at most {worst}"));
    }
    let slowest = readings.iter().filter_map(|reading| reading.busy_us).max();
    if let Some(us) = slowest.or_else(|| conversion.and_then(|conversion| conversion.busy_us)) {
        parts.push(format!("converted in {}", about_milliseconds(us)));
    }
    parts.join("; ")
}

/// What the numbers were held against: the source where all have the same.
fn by_what_right(verdicts: &[Verdict]) -> String {
    let sources: BTreeSet<&str> = verdicts
        .iter()
        .filter(|verdict| verdict.check == Check::Number)
        .map(|verdict| verdict.source.as_str())
        .collect();
    match sources.iter().collect::<Vec<_>>().as_slice() {
        [] => String::new(),
        [source] => format!(" (right by {source})"),
        _ => " (right by the datasheets of their parts)".into(),
    }
}

/// The largest distance from a reference, in degrees.
pub(super) fn worst_distance<'a>(verdicts: impl Iterator<Item = &'a Verdict>) -> Option<String> {
    let distances = verdicts.filter_map(|verdict| verdict.comparison).map(|compared| compared.difference_millicelsius);
    distances.max_by_key(|difference| difference.unsigned_abs()).map(|worst| hundredths(worst.abs()))
}
