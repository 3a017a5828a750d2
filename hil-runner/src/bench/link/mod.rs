//! The host's side of a session with a bridge: requests out, replies in, every wait bounded, every end by name.

mod carrier;
mod session;

#[cfg(test)]
mod tests;

pub use carrier::{Carrier, CarrierError, LogLine};
pub use session::{Link, LinkError, Peer};
