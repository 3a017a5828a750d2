//! Somebody at the rig, who can do what no switch does.

/// What came of asking.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answered {
    /// It is done.
    Done,
    /// It is not, and will not be.
    Declined,
    /// Nobody answers: the run is to end, or there is nobody at the terminal any more.
    Gone,
}

/// A person who can be asked. There is none where nobody sits at a terminal.
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
