//! What host and bridge say to each other, and the service that answers.
//!
//! The *bridge* is the microcontroller between host and line. The driver under test runs on it; the host asks it for the
//! driver's operations and gets their results, with what was measured of the line meanwhile. The same service answers in
//! process, on a virtual line.
//!
//! ```text
//!  bytes ── frame ── message ── Endpoint ── Service ── slotwise ── Watch ── pin
//!           COBS,    postcard   sessions,   requests   the driver  edges and
//!           CRC-32              repeats     to calls               times
//! ```
//!
//! - [`frame`]: from bytes to frames and back. The specification, byte by byte, is `PROTOCOL.md` beside this crate; its
//!   worked examples are tests.
//! - [`message`]: requests, replies, and the handshake in which a mismatch of versions is an answer.
//! - [`Endpoint`]: the bridge's side of a session. A repeated request gets the same reply again and is not carried out twice.
//! - [`Host`] and [`Attended`]: the host while a request is carried out. It can end the request; when it is gone, the switches open.
//! - [`Service`]: turns a request into driver calls on any line.
//! - [`play`]: the other roles of a bridge, sensor and listener, with requests of their own.
//! - [`watch`]: a pin and a clock that measure the line while the driver uses them.

#![no_std]

#[cfg(test)]
extern crate std;

mod attendance;
mod endpoint;
pub mod frame;
pub mod message;
pub mod play;
mod service;
mod switches;
mod timing_choice;
pub mod watch;

pub use attendance::{Attendance, Attended, Guard, Heard, Host, Incoming, Interruption, NoGuard, Unattended};
pub use endpoint::{Endpoint, Event, Presence};
pub use service::{Identity, Service};
pub use switches::{Interlock, InterlockedPullUp, NoSwitches, PinSwitch, RigSwitches, Switches};
pub use timing_choice::TimingChoice;
