//! How far a long step has come, on a terminal.

use std::time::{Duration, Instant};

use super::{Characters, StatusLine, TextLook};
use slotwise_record::{Event, Listener, Progress};

/// Steps that are over sooner need no bar.
const PATIENCE: Duration = Duration::from_millis(400);

/// A bar on standard error, there only while a step takes long. It shows nothing unless that is a terminal.
pub struct ProgressBar {
    bar: Option<StatusLine>,
    label: String,
    begun: Instant,
    characters: Characters,
}

impl ProgressBar {
    /// A bar that is not to be seen yet.
    #[must_use]
    pub fn new(look: TextLook) -> Self {
        Self { bar: None, label: String::new(), begun: Instant::now(), characters: look.characters }
    }

    fn begin(&mut self, label: &str) {
        self.label = label.to_owned();
        self.begun = Instant::now();
    }

    fn show(&mut self, done: u64, total: u64, unit: &str) {
        if self.bar.is_none() && self.begun.elapsed() > PATIENCE {
            self.bar = Some(self.bar(total, unit));
        }
        if let Some(bar) = &self.bar {
            bar.position(done);
        }
    }

    fn bar(&self, total: u64, unit: &str) -> StatusLine {
        // The message is cut where the line ends.
        let template = format!("[{{bar:20}}] {{pos}} of {{len}} {unit}, {{eta}} to go: {{wide_msg}}");
        let bar = StatusLine::bar(self.characters, total, &template);
        bar.say(self.label.clone());
        bar
    }

    fn end(&mut self) {
        self.bar = None;
    }
}

impl Listener for ProgressBar {
    fn notice(&mut self, event: &Event<'_>) {
        match event {
            Event::StepStarted { place, label } if place.len() == 1 => self.begin(label),
            Event::Progress { place, progress } if place.len() == 1 => match *progress {
                Progress::Count { done, total } => self.show(done, total, "done"),
                Progress::RigTime { passed_ms, total_ms } => {
                    self.show(passed_ms.min(total_ms) / 1000, total_ms / 1000, "s of the rig's time");
                }
            },
            Event::StepFinished(step) if step.place.len() == 1 => self.end(),
            Event::RunFinished(_) => self.end(),
            Event::Caution { .. } => self.end(),
            Event::RunStarted(_)
            | Event::StepStarted { .. }
            | Event::Progress { .. }
            | Event::Reading { .. }
            | Event::Logged(_)
            | Event::StepFinished(_) => {}
        }
    }
}
