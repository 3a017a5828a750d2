//! The player on the virtual line: against the driver, against the independent sensors of the line, and against hostile masters.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod agreement;
mod driver;
mod faults;
mod hostile;
mod played;
