//! The report on the terminal, written as the run goes on.

use std::io::{self, Write};

use super::look::Ink;
use super::look::OUTCOME_WIDTH;
use super::{TextLook, brief, opening, step, summary};
use slotwise_record::{Event, Listener};
use slotwise_record::{Record, RunOutcome, StepOutcome, StepRecord};
use slotwise_rig::reply::HOST_LEVEL;
use slotwise_terms::units::count;

/// How much of a passed step is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Detail {
    /// A line or two each, and a table of all sensors at the end.
    #[default]
    Brief,
    /// The tables of each.
    Full,
}

/// Writes what happens, step by step. Steps that did not pass are shown in full.
///
/// An error of the stream, such as a pipe that the reader closed, ends the writing but not the run; it is kept.
pub struct Terminal<'a> {
    out: &'a mut dyn Write,
    look: TextLook,
    detail: Detail,
    /// Steps that were not run, shown in one line when all are known.
    not_run: Vec<u32>,
    /// Cautions that were shown before steps: once each, however often a step is repeated.
    cautions: Vec<(Vec<u32>, String)>,
    error: Option<io::Error>,
    /// The command that gives the same run again.
    again: Option<String>,
}

impl<'a> Terminal<'a> {
    /// A report to `out`.
    pub fn new(out: &'a mut dyn Write, look: TextLook, detail: Detail) -> Self {
        Self { out, look, detail, not_run: Vec::new(), cautions: Vec::new(), error: None, again: None }
    }

    /// The same report, with the command that gives the same run again on a virtual line.
    #[must_use]
    pub fn with_command(self, again: String) -> Self {
        Self { again: Some(again), ..self }
    }

    /// Tells how the run ended, from its finished record.
    pub fn close(&mut self, record: &Record) {
        if record.end.outcome != RunOutcome::Broken {
            self.lines(summary::sensors(&self.look, record));
        }
        self.lines(summary::tell(&self.look, record));
    }

    /// Writes a line of its own.
    pub fn line(&mut self, text: &str) {
        self.lines(vec![text.to_owned()]);
    }

    /// The first error of the stream, if there was one.
    #[must_use]
    pub fn into_error(self) -> Option<io::Error> {
        self.error
    }

    fn tell_not_run(&mut self) {
        let not_run = std::mem::take(&mut self.not_run);
        if let (Some(first), Some(last)) = (not_run.first(), not_run.last()) {
            let which = if first == last { format!("{first}") } else { format!("{first} to {last}") };
            let first = format!("{:OUTCOME_WIDTH$}  ", StepOutcome::NotRun.word());
            let text = self.look.wrap(&first, &format!("{which} ({})", count(not_run.len(), "step")));
            self.lines(vec![Ink::from(StepOutcome::NotRun).on(text)]);
        }
    }

    fn tell_caution(&mut self, place: &[u32], text: &str) {
        if !self.cautions.iter().any(|(shown, known)| *shown == place && known == text) {
            self.cautions.push((place.to_vec(), text.to_owned()));
            self.lines(vec![Ink::Odd.on(self.look.wrap("CAUTION  ", text))]);
        }
    }

    fn lines(&mut self, lines: Vec<String>) {
        if self.error.is_some() || lines.is_empty() {
            return;
        }
        let mut text = lines.join("\n");
        text.push('\n');
        self.error = self.out.write_all(text.as_bytes()).and_then(|()| self.out.flush()).err();
    }
}

impl Listener for Terminal<'_> {
    fn notice(&mut self, event: &Event<'_>) {
        match event {
            Event::RunStarted(start) => self.lines(opening::tell(&self.look, start, self.again.as_deref())),
            Event::StepFinished(StepRecord { place, outcome: StepOutcome::NotRun, .. }) => {
                if let [number] = place[..] {
                    self.not_run.push(number);
                }
            }
            // The steps of a repetition are shown with it.
            Event::StepFinished(finished) if finished.place.len() == 1 => {
                self.lines(match (self.detail, finished.outcome) {
                    (Detail::Brief, StepOutcome::Passed) => brief::tell(&self.look, finished),
                    _ => step::tell(&self.look, finished),
                });
            }
            Event::Caution { place, text } => self.tell_caution(place, text),
            Event::Logged(line) if line.level == HOST_LEVEL => self.lines(vec![self.look.wrap("note: ", &line.text)]),
            Event::StepFinished(_)
            | Event::StepStarted { .. }
            | Event::Progress { .. }
            | Event::Reading { .. }
            | Event::Logged(_) => {}
            Event::RunFinished(_) => self.tell_not_run(),
        }
    }
}
