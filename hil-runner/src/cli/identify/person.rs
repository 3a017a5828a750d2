//! Whoever answers questions and types while sensors are watched.

use crate::cli::operator::TerminalOperator;

/// What was answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Answer {
    /// This was typed.
    Line(String),
    /// Nobody answers.
    Nobody,
}

/// A person at the keys, or nobody.
pub(super) trait Person {
    /// Whether there is somebody to ask.
    fn is_there(&self) -> bool;

    /// Asks, and waits for a line.
    fn ask(&mut self, question: &str) -> Answer;

    /// What was typed meanwhile.
    fn typed(&mut self) -> Option<String>;
}

/// Nobody: all there is to know was said before.
pub(super) struct Nobody;

impl Person for Nobody {
    fn is_there(&self) -> bool {
        false
    }

    fn ask(&mut self, _: &str) -> Answer {
        Answer::Nobody
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
        self.question(question).map_or(Answer::Nobody, Answer::Line)
    }

    fn typed(&mut self) -> Option<String> {
        self.line_typed()
    }
}
