//! What the payload of a frame says.
//!
//! Values of the driver travel as the driver's own types, errors included: the host sees the very error that the driver on the
//! chip returned.

mod bounds;
mod handshake;
mod report;
mod request;
mod result;
mod status;

pub(crate) use handshake::short;
pub use handshake::{Carrier, Fitted, Hello, MAX_TEXT, Master, Refusal, Welcome};
pub use report::{Level, LineReport, Spread};
pub use request::{Position, Request, SearchFrom, Switch, TimingSet};
pub use result::{Answer, Busy, Converted, Ending, MasterFault, PAGE, Page, ReadFailure, Reply, Sample, SwitchFault};
pub use status::{DEAD_MAN_MS, LIFE_EVERY_MS, MOST_CONVERSION_US, NoSession, ResetCause};
