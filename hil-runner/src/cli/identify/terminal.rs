//! The terminal of a session: lines typed by a person, and progress while sensors are watched.

use std::io::{self, IsTerminal};
use std::time::Duration;

use crate::cli::console::message;
use crate::cli::operator::TerminalOperator;
use slotwise_report::{StatusLine, TextLook};

/// The answer to a question.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Answer {
    /// The typed line.
    Line(String),
    /// No line can be read: the input has ended, or the session is to stop.
    InputClosed,
}

/// Where questions are answered.
pub(super) trait Person {
    /// Whether questions can be answered at all.
    fn is_there(&self) -> bool;

    /// Asks, and waits for a line.
    fn ask(&mut self, question: &str) -> Answer;

    /// A line typed without a question, if one is ready. It does not wait.
    fn typed(&mut self) -> Option<String>;
}

/// A session without a terminal: the arguments have to hold every answer.
pub(super) struct Unattended;

impl Person for Unattended {
    fn is_there(&self) -> bool {
        false
    }

    fn ask(&mut self, _: &str) -> Answer {
        Answer::InputClosed
    }

    fn typed(&mut self) -> Option<String> {
        None
    }
}

impl Person for TerminalOperator {
    fn is_there(&self) -> bool {
        true
    }

    fn ask(&mut self, question: &str) -> Answer {
        self.question(question).map_or(Answer::InputClosed, Answer::Line)
    }

    fn typed(&mut self) -> Option<String> {
        self.line_typed()
    }
}

/// Interval of progress lines where standard error is no terminal, in time of the rig.
const PROGRESS_INTERVAL: Duration = Duration::from_secs(10);

/// Messages and progress on standard error: a status line on a terminal, a line every [`PROGRESS_INTERVAL`] elsewhere.
pub(super) struct Live {
    look: TextLook,
    bar: Option<StatusLine>,
    is_terminal: bool,
    /// When the next progress line is due where there is no terminal.
    due_at: Duration,
}

impl Live {
    pub(super) fn new(look: TextLook) -> Self {
        Self { look, bar: None, is_terminal: io::stderr().is_terminal(), due_at: Duration::ZERO }
    }

    /// Writes a line that stays.
    pub(super) fn message(&mut self, text: &str) {
        self.clear();
        message(&self.look.wrap("", text));
    }

    /// Shows progress at time `at` of the rig.
    pub(super) fn show(&mut self, at: Duration, text: &str) {
        if !self.is_terminal {
            if at >= self.due_at {
                self.due_at = at + PROGRESS_INTERVAL;
                message(text);
            }
            return;
        }
        self.bar.get_or_insert_with(StatusLine::text).say(text.to_owned());
    }

    /// Removes the status line.
    pub(super) fn clear(&mut self) {
        self.bar = None;
    }
}
