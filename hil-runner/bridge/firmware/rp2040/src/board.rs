//! What is connected to the RP2040. The only file to change for another board.
//!
//! ```text
//!  3.3 V ──[supply switch, GPIO4]──┬──────────┬───── VDD of the sensors
//!                               [4.7k]  [strong pull-up, GPIO3]
//!   GPIO2 ─────────────────────────┴──────────┴──┬── line ── DQ of the sensors
//!                                       [short switch, GPIO5]
//!   GND ─────────────────────────────────────────┴────────── GND of the sensors
//! ```
//!
//! A board without one of the three switches has `None` in place of its level; the pin is then left alone, and the bridge
//! reports to the host that it is not fitted.

use rp2040_hal::gpio::bank0::{Gpio2, Gpio3, Gpio4, Gpio5};
use rp2040_hal::gpio::{FunctionNull, FunctionSioOutput, InOutPin, Pin, PullDown, PullNone};
use slotwise::line::SwitchLevel;

/// Name of the chip, as the host sees it.
pub(crate) const CHIP: &str = "RP2040";

/// The data pin. The chip has no open drain: the output is low for good, and switched on and off.
pub(crate) type DataPin = InOutPin<Pin<Gpio2, FunctionNull, PullNone>>;
/// The strong pull-up: a P-channel MOSFET from supply to line.
pub(crate) type PullUpPin = Pin<Gpio3, FunctionSioOutput, PullDown>;
/// The supply switch: a P-channel MOSFET in the supply of pull-up and sensors.
pub(crate) type SupplyPin = Pin<Gpio4, FunctionSioOutput, PullDown>;
/// The short switch: an N-channel MOSFET from line to ground.
pub(crate) type ShortPin = Pin<Gpio5, FunctionSioOutput, PullDown>;

/// Level that closes the strong pull-up. Without one: `None`. A P-channel MOSFET needs a resistor that keeps its gate high: the
/// pins of this chip are pulled low until the program starts.
pub(crate) const PULL_UP_CLOSES_AT: Option<SwitchLevel> = Some(SwitchLevel::Low);
/// Level that closes the supply switch. Without one: `None`.
pub(crate) const SUPPLY_CLOSES_AT: Option<SwitchLevel> = Some(SwitchLevel::Low);
/// Level that closes the short switch. Without one: `None`.
pub(crate) const SHORT_CLOSES_AT: Option<SwitchLevel> = Some(SwitchLevel::High);

/// The crystal, in hertz. Without it the bridge does not start: the oscillator inside is anywhere from 1.8 to 12 MHz
/// (datasheet, 2.17), no clock to time a line by.
pub(crate) const CRYSTAL_HZ: u32 = 12_000_000;
/// Core clock, in hertz, as the HAL sets it up.
pub(crate) const CORE_HZ: u32 = 125_000_000;

/// Speed of the serial port, in baud, 8N1: GPIO0 sends, GPIO1 receives. Only with the feature `serial`.
#[cfg(feature = "serial")]
pub(crate) const SERIAL_BAUD: u32 = 115_200;
