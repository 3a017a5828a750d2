//! A real line: hands are those of an operator, time is the time on the wall.

mod hands;
mod open;

#[cfg(test)]
mod tests;

pub(super) use hands::RealHands;
pub(super) use open::{flashed, open_bridge, session_number};
