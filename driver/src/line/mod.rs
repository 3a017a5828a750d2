//! Layer 1, the line: the bus master's side of the one data wire.
//!
//! [`Line`] is the interface: a reset, one time slot and a delay. Everything above is written against it, and everything
//! below ([`PinLine`], [`SerialLine`]) implements it.
//!
//! ```text
//! reset     ──┐ reset_low      ┌─ rise_check ─┐presence┌──────────
//!             └────────────────┘              └────────┘
//! write 1,  ──┐ start_low ┌────────────────── slot ──────────┐
//! read 1      └───────────┘    ^ sample                      └
//! read 0    ──┐ start_low, then the sensor holds ┌── slot ───┐
//!             └────────────────^ sample ─────────┘           └
//! write 0   ──┐ write_zero_low                   ┌─ recovery ┐
//!             └──────────────────────────────────┘           └
//! ```
//! The names are the fields of [`Timing`].

mod calibrate;
mod mask;
mod master;
mod overhead;
mod pair;
mod pin;
mod power;
mod serial;
mod setup;
mod timing;
mod waits;

#[cfg(feature = "critical-section")]
pub use mask::CriticalSection;
pub use mask::{InterruptMask, Unmasked};
pub use master::{Line, LineError, Presence};
pub use overhead::Overhead;
pub use pair::PinPair;
pub use pin::PinLine;
pub use power::{
    DataPinPullUp, DrivesHigh, LinePower, NoStrongPullUp, PullUpSwitch, StrongPullUp, SwitchError, SwitchLevel,
};
pub use serial::{NoSuchRate, PresenceUnchecked, SerialError, SerialLine, SerialPort, UartError, UartPort};
#[cfg(feature = "std")]
pub use serial::{SystemDelay, SystemPort, SystemPortError, SystemSerial};
#[cfg(feature = "embedded-hal-nb")]
pub use serial::{UartHalfError, UartHalves};
pub use setup::SetupError;
pub use timing::Timing;
pub use waits::TimingError;
