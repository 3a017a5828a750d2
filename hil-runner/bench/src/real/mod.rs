//! A real line: hands are those of an operator, time is the time on the wall.

mod hands;
mod open;

#[cfg(test)]
mod tests;

#[cfg(feature = "serial")]
pub(super) use hands::RealHands;
#[cfg(feature = "debug-probe")]
pub(super) use open::flash_bridge;
pub(super) use open::open_bridge;
#[cfg(feature = "serial")]
pub(super) use open::session_number;
