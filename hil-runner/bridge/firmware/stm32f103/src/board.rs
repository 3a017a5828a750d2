//! What is connected to the STM32F103, and how fast it runs. The only file to change for another board.
//!
//! ```text
//!  3.3 V ──[supply switch, PB8]──┬──────────┬───── VDD of the sensors
//!                             [4.7k]  [strong pull-up, PB7]
//!   PB6 ─────────────────────────┴──────────┴──┬── line ── DQ of the sensors
//!                                     [short switch, PB9]
//!   GND ───────────────────────────────────────┴────────── GND of the sensors
//! ```
//!
//! A board without one of the three switches has `None` in place of its level; the pin is then left alone, and the bridge
//! tells the host that it is not fitted.

use slotwise::line::SwitchLevel;
use stm32f1xx_hal::gpio::{OpenDrain, Output, PB6, PB7, PB8, PB9, PushPull};

/// Name of the chip, as the host sees it.
pub(crate) const CHIP: &str = "STM32F103";

/// The data pin: open drain, never driven high.
pub(crate) type DataPin = PB6<Output<OpenDrain>>;
/// The strong pull-up: a P-channel MOSFET from supply to line.
pub(crate) type PullUpPin = PB7<Output<PushPull>>;
/// The supply switch: a P-channel MOSFET in the supply of pull-up and sensors.
pub(crate) type SupplyPin = PB8<Output<PushPull>>;
/// The short switch: an N-channel MOSFET from line to ground.
pub(crate) type ShortPin = PB9<Output<PushPull>>;

/// Level that closes the strong pull-up. Without one: `None`.
pub(crate) const PULL_UP_CLOSES_AT: Option<SwitchLevel> = Some(SwitchLevel::Low);
/// Level that closes the supply switch. Without one: `None`.
pub(crate) const SUPPLY_CLOSES_AT: Option<SwitchLevel> = Some(SwitchLevel::Low);
/// Level that closes the short switch. Without one: `None`.
pub(crate) const SHORT_CLOSES_AT: Option<SwitchLevel> = Some(SwitchLevel::High);

/// The crystal, in hertz.
pub(crate) const CRYSTAL_HZ: u32 = 8_000_000;
/// Core clock with the crystal, in hertz: the highest of the chip (datasheet DS5319, table 9).
pub(crate) const CRYSTAL_CORE_HZ: u32 = 72_000_000;
/// Core clock without it, in hertz: the oscillator inside (datasheet DS5319, table 24: 8 MHz to within a few percent).
pub(crate) const INTERNAL_CORE_HZ: u32 = 8_000_000;
/// How long the crystal may take to start, in core cycles at [`INTERNAL_CORE_HZ`]: 100 ms. Typical are 2 ms (datasheet
/// DS5319, table 22).
pub(crate) const CRYSTAL_START_CYCLES: u32 = 800_000;

/// Speed of the serial port, in baud, 8N1: PA9 sends, PA10 receives. Only with the feature `serial`.
#[cfg(feature = "serial")]
pub(crate) const SERIAL_BAUD: u32 = 115_200;
