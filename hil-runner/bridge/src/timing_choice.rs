//! What a line learns when a session begins.

use crate::message::TimingSet;

/// A line that learns what it is connected to.
pub trait TimingChoice {
    /// Uses this set from the next operation on.
    fn choose_timing(&mut self, set: TimingSet);

    /// Whether the strong pull-up leads to the line. A line without one has nothing to learn from it.
    fn wire_strong_pull_up(&mut self, wired: bool) {
        let _ = wired;
    }
}
