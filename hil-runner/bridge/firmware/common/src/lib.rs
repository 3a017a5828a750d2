//! What the bridge's firmware has in common on every chip.
//!
//! ```text
//!  host ══ Carrier ══ Host ── serve ── Endpoint ── Service ── driver ── Watch ── pin of the chip
//!          RTT or      │      the main     └── slotwise-bridge ──┘
//!          serial   watchdog  loop
//! ```
//!
//! A program for a chip names its pins in `board.rs`, starts the clock, puts the [`endpoint`] together and calls [`serve`]. All else is here: the [carriers](Carrier), the log, the [identity record](identity_record) and the
//! [panic handler](panic).

#![no_std]

mod assemble;
mod carrier;
#[cfg(feature = "cycle-counter")]
mod dwt;
mod identity;
mod log;
pub mod panic;
#[cfg(feature = "player")]
mod play;
mod pull_up;
pub mod rtt;
mod serve;
mod switches;

pub use assemble::{Board, BoardEndpoint, BoardLine, VERSION, endpoint};
#[cfg(not(feature = "serial"))]
pub use carrier::RttCarrier;
pub use carrier::{Carrier, Dropped, PATIENCE_MS};
#[cfg(feature = "cycle-counter")]
pub use dwt::CycleClock;
pub use embedded_hal::digital::PinState;
pub use identity::{IdentityRecord, identity_record};
#[cfg(feature = "player")]
pub use play::{BoardPlayEndpoint, EdgesRoom, PinPort, play_endpoint, play_for_ever};
pub use pull_up::BoardPullUp;
pub use serve::serve;
pub use switches::switch;
