//! The host's side of a session with a bridge: requests out, replies in, every wait bounded, every end by name.

mod arrival;
mod carrier;
mod error;
mod pace;
mod session;

pub use carrier::{Carrier, CarrierError, LogLine};
pub use error::LinkError;
pub use session::{Link, Peer};
