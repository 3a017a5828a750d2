//! What is connected to the nRF52833. The only file to change for another board.
//!
//! ```text
//!  supply ──[supply switch, P0.04]──┬──────────┬───── VDD of the sensors
//!                                [4.7k]  [strong pull-up, P0.03]
//!   P0.02 ──────────────────────────┴──────────┴──┬── line ── DQ of the sensors
//!                                        [short switch, P0.05]
//!   GND ──────────────────────────────────────────┴────────── GND of the sensors
//! ```
//!
//! A board without one of the three switches has `None` in place of its level; the pin is then left alone, and the bridge
//! reports to the host that it is not fitted.

use nrf52833_hal::gpio::p0::{P0_02, P0_03, P0_04, P0_05};
use nrf52833_hal::gpio::{OpenDrainIO, Output, PushPull};
use slotwise::line::SwitchLevel;

/// Name of the chip, as the host sees it.
pub(crate) const CHIP: &str = "nRF52833";

/// The data pin: open drain, never driven high.
pub(crate) type DataPin = P0_02<Output<OpenDrainIO>>;
/// The strong pull-up: a P-channel MOSFET from supply to line.
pub(crate) type PullUpPin = P0_03<Output<PushPull>>;
/// The supply switch: a P-channel MOSFET in the supply of pull-up and sensors.
pub(crate) type SupplyPin = P0_04<Output<PushPull>>;
/// The short switch: an N-channel MOSFET from line to ground.
pub(crate) type ShortPin = P0_05<Output<PushPull>>;

/// Level that closes the strong pull-up. Without one: `None`.
pub(crate) const PULL_UP_CLOSES_AT: Option<SwitchLevel> = Some(SwitchLevel::Low);
/// Level that closes the supply switch. Without one: `None`.
pub(crate) const SUPPLY_CLOSES_AT: Option<SwitchLevel> = Some(SwitchLevel::Low);
/// Level that closes the short switch. Without one: `None`.
pub(crate) const SHORT_CLOSES_AT: Option<SwitchLevel> = Some(SwitchLevel::High);

/// Core clock, in hertz; the chip has no other. It is exact with the crystal, and to within some percent without.
pub(crate) const CORE_HZ: u32 = 64_000_000;
/// How long the crystal may take to start, in core cycles: 100 ms. Typical are 0.36 ms (product specification 1.5, HFXO).
pub(crate) const CRYSTAL_START_CYCLES: u32 = 6_400_000;

// With the feature `serial`: P0.06 sends, P0.08 receives, 115200 baud, 8N1.
