//! Plays a captured line to the real driver: a capture from any bench becomes a test of it.
//!
//! [`ReplayLine`] is a [`Line`](slotwise::line::Line) for tests of one's own; [`Player`] plays what a capture has in it as it comes.

mod line;
mod player;

#[cfg(test)]
mod tests;

pub use line::{Deviation, ReplayLine};
pub use player::{Played, Player, ReplayReport, Standing};
