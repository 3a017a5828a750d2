//! What comes back from a rig: samples and failures, and what its bridge, link and line report of themselves.

mod answers;
mod bridge;
mod driver;
mod driver_errors;
mod trouble;

pub use bridge::{
    BridgeRecord, CarrierKind, HOST_LEVEL, ImageRecord, LineRecord, LinkRecord, LogRecord, PortRecord, SpreadRecord,
};
pub use driver::Driver;
pub use slotwise_bridge::message::{Busy, Converted, Sample};
pub use trouble::{Failure, Trouble};
