//! Files of this computer: written as a whole or not at all, and what it runs short of.

pub(crate) mod shortage;
mod whole;

pub use whole::{WriteRecordError, can_be_replaced, replace_atomically, write_atomically};
