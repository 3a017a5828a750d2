//! One run: its state, its failures, plots and steps.

use super::page::{Plot, Run};
use super::{HtmlError, conversions, first_failure, line, overview, readings, steps, trends};
use crate::{breakage_hint, describe};
use slotwise_past::{JobState, ReportedRun, SeriesPast};
use slotwise_record::{Breakage, Record, StepRecord};
use slotwise_rig::reply::CarrierKind;
use slotwise_rig::{BUILT_IN_RIGS, built_in_rig};
use slotwise_waveform::Levels;

/// Lines of the firmware's log that are shown.
const LOG_LINES: usize = 500;

/// What a part of the page is about.
pub(super) struct Part<'a> {
    /// Its number on the page, from 1.
    pub(super) number: usize,
    pub(super) heading: String,
    pub(super) reported: &'a dyn Reported,
}

/// A run that is reported: one of a night, or one alone.
pub(super) trait Reported {
    fn record(&self) -> Option<&Record>;
    fn state(&self) -> JobState;
    /// The line at the first failure.
    fn failure(&self) -> Option<&Result<Levels, String>>;
    fn past(&self) -> Option<&SeriesPast>;
    /// Its folder beside the page.
    fn folder(&self) -> Option<&str>;
}

impl Reported for ReportedRun<'_> {
    fn record(&self) -> Option<&Record> {
        self.record.as_ref()
    }

    fn state(&self) -> JobState {
        self.job.state.clone()
    }

    fn failure(&self) -> Option<&Result<Levels, String>> {
        self.failure.as_ref()
    }

    fn past(&self) -> Option<&SeriesPast> {
        self.past.as_ref()
    }

    fn folder(&self) -> Option<&str> {
        Some(&self.job.folder)
    }
}

impl Reported for (&Record, Option<&Result<Levels, String>>) {
    fn record(&self) -> Option<&Record> {
        Some(self.0)
    }

    fn state(&self) -> JobState {
        JobState::Done(self.0.end.outcome)
    }

    fn failure(&self) -> Option<&Result<Levels, String>> {
        self.1
    }

    fn past(&self) -> Option<&SeriesPast> {
        None
    }

    fn folder(&self) -> Option<&str> {
        None
    }
}

pub(super) fn run(part: &Part<'_>) -> Result<Run, HtmlError> {
    let id = format!("run-{}", part.number);
    let (word, tone, why) = overview::state(&part.reported.state());
    let Some(record) = part.reported.record() else {
        return Ok(Run {
            id,
            heading: part.heading.clone(),
            word,
            tone,
            why: why.or_else(|| Some("its record cannot be read".into())),
            hint: None,
            facts: Vec::new(),
            cautions: Vec::new(),
            failures: Vec::new(),
            plots: Vec::new(),
            steps: Vec::new(),
            log: Vec::new(),
            log_not_kept: 0,
            folder: None,
        });
    };
    let breakage = record.end.breakage.as_ref();
    let logged = record.log.len().min(LOG_LINES);
    Ok(Run {
        heading: part.heading.clone(),
        word,
        tone,
        why: why.or_else(|| breakage.map(|Breakage { text, .. }| format!("The rig is broken: {text}"))),
        hint: breakage.map(|breakage| breakage_hint(breakage, &record.rig)),
        facts: facts(record),
        cautions: cautions(record),
        failures: steps::failures(record, &id),
        plots: plots(part, record, &id)?,
        steps: steps::all(record, &id),
        log: record.log[..logged].iter().map(|line| format!("{:>9}  {}", line.level, line.text)).collect(),
        folder: part.reported.folder().map(str::to_owned),
        log_not_kept: record.log_not_kept + (record.log.len() - logged) as u64,
        id,
    })
}

fn plots(part: &Part<'_>, record: &Record, id: &str) -> Result<Vec<Plot>, HtmlError> {
    let trends = part.reported.past().map(|past| trends::plots(past, record, id)).transpose()?;
    let plots = [
        first_failure::plot(record, part.reported.failure(), id)?,
        readings::plot(record, id)?,
        conversions::plot(record, id)?,
        line::presence(record, id)?,
        line::margins(record, id)?,
    ];
    Ok(plots.into_iter().flatten().chain(trends.into_iter().flatten()).collect())
}

/// Those of the scenario, and those that stood before a step.
fn cautions(record: &Record) -> Vec<String> {
    let mut cautions = record.scenario.cautions.clone();
    for caution in record.steps.iter().flat_map(StepRecord::all_cautions) {
        if !cautions.iter().any(|known| known == caution) {
            cautions.push(caution.to_owned());
        }
    }
    cautions
}

fn facts(record: &Record) -> Vec<(String, String)> {
    let mut facts = vec![
        ("Rig".to_owned(), describe(&record.rig)),
        ("Scenario".to_owned(), record.scenario.source.clone()),
        ("Begun".to_owned(), record.started_at.clone()),
        ("Driver".to_owned(), format!("{} {}", record.driver.name, record.driver.version)),
        ("Tool".to_owned(), format!("{} {}", record.tool.name, record.tool.version)),
    ];
    if record.bridge.carrier != CarrierKind::InProcess {
        let chip = format!("{} on {}", record.bridge.firmware, record.bridge.chip);
        facts.push(("Firmware".to_owned(), chip));
    }
    if let Some(image) = record.bridge.image {
        let text = format!("{} B of flash, {} B of statics", image.flash_bytes, image.statics_bytes);
        facts.push(("Image".to_owned(), text));
    }
    if record.rig.virtual_line().is_some() {
        facts.push(("The same again".to_owned(), again(record)));
    }
    facts
}

/// The command that gives the same again where all of it is built in; else what it needs. A record does not say where files are.
fn again(record: &Record) -> String {
    let (rig, source, seed) = (&record.rig, &record.scenario.source, record.seed);
    let built_in = built_in_rig(&rig.name);
    let rig_word = match &built_in {
        Some(known) if known == rig => Some(rig.name.as_str()),
        Some(known) if known.clone().emulated().as_ref() == Some(rig) && rig.name == BUILT_IN_RIGS[0] => {
            Some("emulated")
        }
        _ => None,
    };
    let scenario = source.strip_prefix('<').and_then(|name| name.strip_suffix('>'));
    match (scenario, rig_word) {
        (Some(scenario), Some(rig)) => format!("hil-runner run {scenario} --rig {rig} --seed {seed}"),
        _ => format!("seed {seed}, with the scenario {source} and the file of the rig {}", rig.name),
    }
}
