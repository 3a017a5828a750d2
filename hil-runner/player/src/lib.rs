//! Plays 1-Wire thermometers on one pin, and listens to a line: the side of the bus that a master meets.
//!
//! The code is written from the datasheets, apart from the driver and from the sensors of the virtual line, so that each can be
//! held against the others. It does not allocate and does not panic; time is a counter of ticks that the caller provides.
//!
//! ```text
//!  pin ── Port ── Player::poll ── Conversation ── Sensors      the host sets temperatures, conversion
//!                 slots, resets,   ROM and         registers,   times, faults, and reads the report
//!                 presence         function        EEPROM, CRC
//!                                  commands
//! ```
//!
//! - [`Player`]: the slot loop. [`Player::poll`] samples the pin once and does what is due; firmware calls it without end with
//!   interrupts masked, a test calls it in virtual time. Between the falling edge and the answer there is one sample of the pin.
//! - [`Sensors`]: up to 32 sensors; for each of the 64 places of a ROM code a mask of the sensors whose bit is 1, so that a slot of
//!   a search costs the same with 1 and with 32.
//! - [`Fault`]: what goes wrong, once, at a rate, or until it is taken back.
//! - [`Report`]: what the master wrote, and how its edges lie in the windows.
//! - [`listen`]: every edge of a line as a stream of bytes, and back.
//!
//! # Not played
//!
//! - Parasite power: a pin that is driven low cannot take its supply from the line ([`SensorError::ParasitePower`]).
//! - Overdrive, chain, PIO and Conditional Read ROM of the DS28EA00 ([`Part::not_played`]); the thermocouple parts of family 3Bh.
//! - Core clocks under 48 MHz: the answer would be late ([`ClockError::TooSlow`]).

#![no_std]

#[cfg(test)]
extern crate std;

mod clock;
mod conversation;
mod crc;
mod fault;
pub mod listen;
mod part;
mod player;
mod port;
mod registers;
mod report;
mod sensor;
mod sensors;
mod ticks;
mod timing;

pub use clock::{Clock, ClockError, LEAST_HZ};
pub use fault::{Course, Fault, FaultError, FaultId, FaultKind, MOST_FAULTS};
pub use part::{Part, RomCode};
pub use player::Player;
pub use port::{AWAY_US, Input, Moment, Port};
pub use report::{Margins, Report, Spread, TRANSACTIONS_KEPT, Transaction};
pub use sensor::{Power, SensorConfig, SensorState};
pub use sensors::{MOST_SENSORS, SensorError, Sensors};
pub use timing::{Timing, TimingLimit};
