//! Reading a capture: a Value Change Dump (IEEE 1364) as a stream of changes, in constant memory.
//!
//! A capture may come from any program, so nothing in it is taken on trust: what cannot be read is reported with its line, and
//! reading goes on behind it.

mod choose;
mod error;
mod header;
mod limited;
mod reader;
mod signal;
mod step;
mod timescale;

pub use choose::{BothWays, Looks, Resemblance, choose};
pub use error::{Damage, OpenError};
pub use reader::{Capture, Change, Item, Level};
pub use signal::{Match, Signal};
