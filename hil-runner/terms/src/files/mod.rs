//! Files of this computer: written as a whole or not at all, and what it runs short of.

pub mod shortage;
mod whole;

pub use whole::{WriteRecordError, can_be_replaced, replace_atomically, write_atomically};

/// The variable of the environment that names a history.
pub const HISTORY_VARIABLE: &str = "HIL_RUNNER_HISTORY";
