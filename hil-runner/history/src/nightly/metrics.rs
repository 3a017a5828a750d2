//! The figures of the latest night as OpenMetrics text (openmetrics.io, version 1.0), for any scraper.

use std::sync::atomic::AtomicU64;

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::registry::{Registry, Unit};

use crate::figures;
use slotwise_past::{FigureSubject, JobState, NightReport, ReportedRun, Series};
use slotwise_record::RunOutcome;

/// A number with labels.
type Numbers<L> = Family<L, Gauge<f64, AtomicU64>>;

/// A run.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OfRun {
    rig: String,
    scenario: String,
    time: u32,
}

/// A run and one of several.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OfRunWith {
    rig: String,
    scenario: String,
    time: u32,
    is: String,
}

/// A sensor in a run.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OfSensor {
    rig: String,
    scenario: String,
    time: u32,
    rom: String,
    sensor: String,
}

/// A figure.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OfFigure {
    rig: String,
    kind: String,
    scenario: String,
    time: u32,
    figure: String,
    subject: String,
}

/// The text, with its closing `# EOF`.
///
/// # Errors
/// If the text cannot be made, which only a lack of memory explains.
pub fn metrics(report: &NightReport<'_>) -> Result<String, std::fmt::Error> {
    let mut registry = Registry::with_prefix("slotwise");
    let ended = Gauge::<f64, AtomicU64>::default();
    let at = report.night.ended_at.as_deref().and_then(|time| chrono::DateTime::parse_from_rfc3339(time).ok());
    ended.set(at.map_or(0.0, |time| time.timestamp() as f64));
    registry.register_with_unit("night_ended", "When the latest night ended", Unit::Seconds, ended);
    let took = Numbers::<OfRun>::default();
    registry.register_with_unit("run_took", "How long a run took", Unit::Seconds, took.clone());
    let outcome = Numbers::<OfRunWith>::default();
    registry.register("run_outcome", "1 for what became of a run", outcome.clone());
    let expectations = Numbers::<OfRunWith>::default();
    registry.register("run_expectations", "Expectations of a run, by what became of them", expectations.clone());
    let findings = Numbers::<OfRunWith>::default();
    registry.register(
        "run_changes",
        "What has changed against the rig's own past, new or standing, by the first run of the night that shows it",
        findings.clone(),
    );
    let last = Numbers::<OfSensor>::default();
    registry.register_with_unit("sensor", "Last reading", Unit::Other("celsius".into()), last.clone());
    let figure = Numbers::<OfFigure>::default();
    registry.register(
        "run_figure",
        "What is watched from night to night, each in the unit of its kind",
        figure.clone(),
    );
    for run in &report.runs {
        let of = |is: &str| with(run, is);
        if let Some(ms) = run.job.took_ms {
            took.get_or_create(&OfRun {
                rig: run.job.rig.clone(),
                scenario: run.job.scenario.clone(),
                time: run.job.time,
            })
            .set(ms as f64 / 1000.0);
        }
        for word in OUTCOMES {
            let is = word == outcome_of(&run.job.state);
            outcome.get_or_create(&of(word)).set(f64::from(u8::from(is)));
        }
        if let Some(assessment) = &run.assessment {
            let new = assessment.changes.iter().filter(|change| change.is_new).count();
            findings.get_or_create(&of("new")).set(new as f64);
            findings.get_or_create(&of("standing")).set((assessment.changes.len() - new) as f64);
        }
        sensors_and_figures(run, &expectations, &last, &figure);
    }
    let mut text = String::new();
    encode(&mut text, &registry)?;
    Ok(text)
}

fn with(run: &ReportedRun<'_>, is: &str) -> OfRunWith {
    OfRunWith { rig: run.job.rig.clone(), scenario: run.job.scenario.clone(), time: run.job.time, is: is.into() }
}

/// What can become of a run, in the words that scrapers know.
const OUTCOMES: [&str; 8] = ["passed", "failed", "incomplete", "interrupted", "broken", "refused", "lost", "not-done"];

/// What became of a run.
const fn outcome_of(state: &JobState) -> &'static str {
    match state {
        JobState::Done(RunOutcome::Passed) => "passed",
        JobState::Done(RunOutcome::Failed) => "failed",
        JobState::Done(RunOutcome::Incomplete) => "incomplete",
        JobState::Done(RunOutcome::Interrupted) => "interrupted",
        JobState::Done(RunOutcome::Broken) => "broken",
        JobState::Refused(_) => "refused",
        JobState::Lost(_) => "lost",
        JobState::NotDone(_) | JobState::Waiting | JobState::GoingOn => "not-done",
    }
}

fn sensors_and_figures(
    run: &ReportedRun<'_>,
    expectations: &Numbers<OfRunWith>,
    last: &Numbers<OfSensor>,
    figure: &Numbers<OfFigure>,
) {
    let Some(record) = &run.record else { return };
    let tally = record.tally();
    for (word, count) in [("met", tally.met), ("not-met", tally.not_met), ("cannot-tell", tally.cannot_tell)] {
        expectations.get_or_create(&with(run, word)).set(f64::from(count));
    }
    let label = |rom| {
        record
            .rig
            .inventory
            .iter()
            .find(|sensor| sensor.rom == rom)
            .map_or(String::new(), |sensor| sensor.label.clone())
    };
    for (rom, sixteenths) in record.last_readings() {
        let of = OfSensor {
            rig: run.job.rig.clone(),
            scenario: run.job.scenario.clone(),
            time: run.job.time,
            rom: rom.to_string(),
            sensor: label(rom),
        };
        last.get_or_create(&of).set(f64::from(sixteenths) / 16.0);
    }
    let Series { kind, .. } = Series::of(record);
    for one in figures(record) {
        let sensor = one.subject.rom().map(label).filter(|label| !label.is_empty());
        let bits = match one.subject {
            FigureSubject::Sensor { bits: Some(bits), .. } => format!(" at {bits} bits"),
            _ => String::new(),
        };
        let of = OfFigure {
            rig: run.job.rig.clone(),
            kind: kind.clone(),
            scenario: run.job.scenario.clone(),
            time: run.job.time,
            figure: one.kind.name().into(),
            subject: sensor.map_or_else(|| one.subject.to_string(), |label| format!("{label}{bits}")),
        };
        figure.get_or_create(&of).set(one.value);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_outcome_of_a_run_has_one_word() {
        let why = String::new;
        for (state, word) in [
            (JobState::Done(RunOutcome::Passed), "passed"),
            (JobState::Done(RunOutcome::Broken), "broken"),
            (JobState::Refused(why()), "refused"),
            (JobState::Lost(why()), "lost"),
            (JobState::NotDone(why()), "not-done"),
        ] {
            assert_eq!(outcome_of(&state), word);
            assert!(OUTCOMES.contains(&word));
        }
    }
}
