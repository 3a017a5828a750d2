//! From events to a record.

use chrono::{DateTime, SecondsFormat, Utc};

use super::{Record, RunEnd, RunOutcome, SCHEMA_VERSION, Tool};
use crate::{Event, Listener, Start};
use slotwise_rig::reply::LinkRecord;

/// Lines of the firmware's log that a record keeps: a chatty firmware must not fill the memory.
const MAX_LOG_LINES: usize = 10_000;

/// Listens to a run and writes down what happens.
#[derive(Debug)]
pub struct Recorder {
    record: Record,
}

impl Recorder {
    /// A recorder of the run that begins like this, at this time of the wall.
    #[must_use]
    pub fn new(start: &Start<'_>, started_at: DateTime<Utc>) -> Self {
        let record = Record {
            schema_version: SCHEMA_VERSION,
            tool: Tool::this(),
            driver: start.driver.clone(),
            bridge: start.bridge.clone(),
            started_at: started_at.to_rfc3339_opts(SecondsFormat::Micros, true),
            seed: start.seed,
            rig: start.rig.clone(),
            scenario: start.scenario.clone(),
            steps: Vec::new(),
            log: Vec::new(),
            log_not_kept: 0,
            // Stands until the run says otherwise: a run that never ended was interrupted.
            end: RunEnd {
                outcome: RunOutcome::Interrupted,
                at_ns: 0,
                breakage: None,
                link: LinkRecord::default(),
                edges: None,
                port: None,
                capture: None,
            },
        };
        Self { record }
    }

    /// The record.
    #[must_use]
    pub fn into_record(self) -> Record {
        self.record
    }
}

impl Listener for Recorder {
    fn notice(&mut self, event: &Event<'_>) {
        match event {
            Event::StepFinished(step) if step.place.len() == 1 => self.record.steps.push((*step).clone()),
            Event::Logged(line) if self.record.log.len() < MAX_LOG_LINES => self.record.log.push((*line).clone()),
            Event::Logged(_) => self.record.log_not_kept += 1,
            Event::RunFinished(end) => self.record.end = (*end).clone(),
            Event::RunStarted(_)
            | Event::Caution { .. }
            | Event::StepStarted { .. }
            | Event::Progress { .. }
            | Event::Reading { .. }
            | Event::StepFinished(_) => {}
        }
    }
}
