//! A step in words and tables.

use std::collections::BTreeMap;

use slotwise::thermometer::Supply;

use super::look::Ink;
use super::look::OUTCOME_WIDTH;
use super::verdicts::{lines, painted, worst};
use super::{Grid, MARGIN, TextLook, nothing, table};
use slotwise_record::{Check, Subject, Verdict};
use slotwise_record::{
    ConversionRecord, FoundSensor, ReadingOutcome, ReadingRecord, Rounds, StepData, StepOutcome, StepRecord,
};
use slotwise_terms::units::{about_milliseconds, celsius, hundredths, rig_time};

/// The whole report of a step.
pub(super) fn tell(look: &TextLook, step: &StepRecord) -> Vec<String> {
    let mut output = vec![heading(look, step)];
    if let (Some(reason), false) = (&step.reason, step.outcome == StepOutcome::NotRun) {
        output.push(look.wrap(MARGIN, reason));
    }
    match &step.data {
        StepData::Search { searches, found } => output.extend(found_table(look, *searches, found, &step.verdicts)),
        StepData::Readings { fixed_point: Some(found), .. } => {
            output.extend(super::fixed_point::lines(look, found, &step.verdicts));
        }
        StepData::Readings { conversion, readings, .. } => {
            output.extend(readings_table(look, conversion.as_ref(), readings, &step.verdicts));
        }
        StepData::Rounds(rounds) => output.extend(rounds_lines(look, rounds)),
        StepData::Nothing
        | StepData::Settings { .. }
        | StepData::FaultInjected { .. }
        | StepData::FaultCleared { .. } => {}
    }
    output.extend(lines(look, &step.verdicts));
    if let StepData::Settings { sensors } = &step.data
        && step.outcome == StepOutcome::Passed
    {
        output.push(look.wrap(MARGIN, &super::brief::settings(sensors)));
    }
    output
}

/// Its outcome, its place, its label and how long it took.
pub(super) fn heading(look: &TextLook, step: &StepRecord) -> String {
    let word = step.outcome.word();
    let place = place(&step.place);
    let took = match step.outcome {
        StepOutcome::NotRun => String::new(),
        _ => format!(" ({})", rig_time(step.ended_ns.saturating_sub(step.started_ns))),
    };
    let text = look.wrap(&format!("{word:OUTCOME_WIDTH$}  "), &format!("{place} {}{took}", step.label));
    text.replacen(word, &Ink::from(step.outcome).on(word), 1)
}

/// `4`, or `4.2` for a step inside a repetition.
pub(super) fn place(place: &[u32]) -> String {
    let numbers: Vec<String> = place.iter().map(ToString::to_string).collect();
    numbers.join(".")
}

pub(super) fn label(sensor: &Subject) -> String {
    sensor.label.clone().unwrap_or_else(|| "(not in the inventory)".into())
}

fn found_table(look: &TextLook, searches: u32, found: &[FoundSensor], verdicts: &[Verdict]) -> Vec<String> {
    let mut rows: Vec<Vec<String>> = found
        .iter()
        .map(|found| {
            let about = verdicts.iter().filter(|verdict| verdict.sensor.as_ref() == Some(&found.sensor));
            vec![
                label(&found.sensor),
                found.sensor.rom.to_string(),
                found.part.clone().unwrap_or_else(|| format!("family {}", found.sensor.rom.family())),
                supply_word(found.supply).into(),
                format!("{} of {searches}", found.times),
                worst(about).word().into(),
            ]
        })
        .collect();
    // Those who were not found at all have a row too.
    let missing = verdicts.iter().filter(|verdict| verdict.check == Check::Presence && !verdict.is_met());
    for sensor in missing.filter_map(|verdict| verdict.sensor.as_ref()) {
        if !found.iter().any(|found| found.sensor == *sensor) {
            let word = slotwise_record::Ruling::NotMet.word();
            rows.push(vec![
                label(sensor),
                sensor.rom.to_string(),
                nothing(),
                nothing(),
                format!("0 of {searches}"),
                word.into(),
            ]);
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let heading = vec!["sensor", "ROM code", "part", "power", "found", "verdict"];
    table(look, Grid { heading, right: &["found"], rows }).into_iter().map(painted).collect()
}

/// How a sensor is supplied, in words.
#[must_use]
pub fn supply_word(supply: Option<Supply>) -> &'static str {
    match supply {
        Some(Supply::Local) => "local",
        Some(Supply::Parasite) => "parasite",
        None => "-",
    }
}

fn readings_table(
    look: &TextLook,
    conversion: Option<&ConversionRecord>,
    readings: &[ReadingRecord],
    verdicts: &[Verdict],
) -> Vec<String> {
    let rows: Vec<Vec<String>> = readings.iter().map(|reading| reading_row(reading, verdicts)).collect();
    let heading = vec!["sensor", "ROM code", "reading", "expected", "off by", "conversion", "verdict"];
    let mut output = match rows.as_slice() {
        [] => return Vec::new(),
        [row] => vec![one_reading(look, row)],
        _ => table(look, Grid { heading, right: &["reading", "off by", "conversion"], rows }),
    };
    output = output.into_iter().map(painted).collect();
    if let Some(ConversionRecord { busy_us: Some(us), .. }) = conversion {
        let text = format!("one conversion for the whole line: {}", about_milliseconds(*us));
        output.push(Ink::Faint.on(look.wrap(MARGIN, &text)));
    }
    output.extend(sources(look, verdicts));
    output
}

fn reading_row(reading: &ReadingRecord, verdicts: &[Verdict]) -> Vec<String> {
    let about: Vec<&Verdict> =
        verdicts.iter().filter(|verdict| verdict.sensor.as_ref() == Some(&reading.sensor)).collect();
    let (expected, off_by) = expectation(&about);
    vec![
        label(&reading.sensor),
        reading.sensor.rom.to_string(),
        match &reading.outcome {
            ReadingOutcome::Read(number) => match number.again_text() {
                Some(again) => format!("{}, {again}", number.text()),
                None => number.text(),
            },
            ReadingOutcome::Failed(failure) => failure.kind.words().into(),
        },
        expected,
        off_by,
        reading.busy_us.map_or_else(nothing, about_milliseconds),
        worst(about.into_iter()).word().into(),
    ]
}

/// A table of one row is a sentence.
fn one_reading(look: &TextLook, row: &[String]) -> String {
    let [label, rom, reading, expected, off_by, conversion, verdict] = row else { return row.join(" ") };
    let part =
        |name: &str, value: &String| if *value == nothing() { String::new() } else { format!(", {name} {value}") };
    let text = format!(
        "{label} ({rom}): {reading}{}{}{}: {verdict}",
        part("expected", expected),
        part("off by", off_by),
        part("converted in", conversion)
    );
    look.wrap(MARGIN, &text)
}

/// What a sensor's number had to be, and how far off it is.
fn expectation(about: &[&Verdict]) -> (String, String) {
    let unmet_first = |check| {
        let matching = || about.iter().filter(move |verdict| verdict.check == check);
        matching().find(|verdict| !verdict.is_met()).or_else(|| matching().next())
    };
    let compared = unmet_first(Check::Near).and_then(|verdict| verdict.comparison);
    let off_by = compared.map_or_else(nothing, |compared| hundredths(compared.difference_millicelsius));
    let stated = [Check::Fails, Check::DoubtNamed, Check::Published].into_iter().find_map(unmet_first);
    let expected = match (stated, compared) {
        (Some(verdict), _) => verdict.expected.clone(),
        (None, Some(compared)) => celsius(compared.reference_millicelsius),
        (None, None) => nothing(),
    };
    (expected, off_by)
}

/// One line: how many correct numbers each source confirms.
fn sources(look: &TextLook, verdicts: &[Verdict]) -> Vec<String> {
    let mut by_source: BTreeMap<&str, usize> = BTreeMap::new();
    for verdict in verdicts.iter().filter(|verdict| verdict.check == Check::Number && verdict.is_met()) {
        *by_source.entry(&verdict.source).or_default() += 1;
    }
    if by_source.is_empty() {
        return Vec::new();
    }
    let parts: Vec<String> = by_source.iter().map(|(source, number)| format!("{number} by {source}")).collect();
    let text = format!("numbers right for their bytes: {}", parts.join("; "));
    vec![Ink::Faint.on(look.wrap(MARGIN, &text))]
}

/// The first failed round, as an example, with its whole report.
fn rounds_lines(look: &TextLook, rounds: &Rounds) -> Vec<String> {
    let failed = rounds.kept.iter().find(|round| round.outcome != StepOutcome::Passed);
    let Some(round) = failed else { return Vec::new() };
    let steps = round.steps.iter().filter(|step| step.outcome != StepOutcome::Passed);
    let output = steps.flat_map(|step| {
        let first = format!("{MARGIN}round {}, step {}: ", round.number, place(&step.place));
        let verdicts = step.verdicts.iter().filter(|verdict| !verdict.is_met());
        let sentences: Vec<String> = verdicts.map(super::verdicts::sentence).collect();
        let reason = step.reason.clone();
        let texts = if sentences.is_empty() { reason.into_iter().collect() } else { sentences };
        texts.into_iter().map(move |text| look.wrap(&first, &text))
    });
    output.collect()
}
