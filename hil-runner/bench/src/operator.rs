//! The operator at the rig, who does what no switch does.

/// The operator's answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answered {
    /// It is done.
    Done,
    /// It is not, and will not be.
    Declined,
    /// There is no answer: the run is to end, or the terminal is closed.
    Gone,
}

/// A person at a terminal. A run without a terminal has none.
pub trait Operator {
    /// Does this at least once a second while it waits for an answer.
    fn while_waiting(&mut self, idle: Box<dyn FnMut()>);

    /// Asks for something to be done, and waits for it.
    fn ask(&mut self, what: &str) -> Answered;

    /// Shows a caution and asks whether it has been read.
    fn warn(&mut self, caution: &str) -> Answered;

    /// Asks for the reading of another instrument, in thousandths of a degree Celsius. `None`: there is none.
    fn reading(&mut self, of: &str) -> Option<i32>;
}
