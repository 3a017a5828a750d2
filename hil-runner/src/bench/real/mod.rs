//! A real line: hands are those of an operator, time is the time on the wall.

mod hands;
mod open;

pub(super) use open::{flashed, open_bridge, session_number};
