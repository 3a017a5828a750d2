//! A serial adapter as bus master: the driver runs on this host, and each byte of the port is a slot on the line.
//!
//! The bridge's own service runs in this process, as on a virtual rig, on a line that is a real port. What goes wrong between host
//! and line ends the session by its name.

mod carrier;
mod counted;
mod fault;
mod modem_line;
mod open;
mod port;
mod traffic;

pub(super) use open::open_adapter;
pub(super) use traffic::Traffic;
