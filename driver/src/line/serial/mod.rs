//! The bus master on a UART: each byte that is sent pulls the line through one slot, and its echo is the level of the line.
//!
//! A frame begins with a low start bit, and zeros follow low, so a byte of ones is a short low pulse and a byte of zeros a long
//! one. A receiver joined to the line samples it in the middle of each bit:
//!
//! ```text
//! 115200 baud, 8.68 us a bit       start  0  1  2  3  4  5  6  7 stop
//! write 1, read 1: sends FFh     ──┐    ┌──────────────────────────   echo FFh
//!                                  └────┘  ^ sample, 13.0 us
//! read 0: sends FFh              ──┐           ┌───────────────────   echo FCh: bit 0 is clear
//!                                  └───────────┘ sensor releases
//! write 0: sends 00h             ──┐                          ┌────   echo 00h
//!                                  └──────────────────────────┘ 78.1 us
//! ```
//!
//! Low times and samples keep to the limits of the DS18B20 datasheet (7/19), AC table: tLOW1 1..15 us, tLOW0 60..120 us, tRDV
//! 15 us, tRSTL 480..960 us. Computed for exact rates; all hold to within 4 %.

//!
//! A port is made of a UART of a chip by `UartPort`, and of a port of an operating system by `SystemPort`.

#[cfg(feature = "embedded-hal-nb")]
mod halves;
mod line;
mod port;
mod slot;
#[cfg(feature = "std")]
mod system;
mod uart;

#[cfg(feature = "embedded-hal-nb")]
pub use halves::{UartHalfError, UartHalves};
pub use line::{PresenceUnchecked, SerialLine};
pub use port::{SerialError, SerialPort};
#[cfg(feature = "std")]
pub use system::{SystemDelay, SystemPort, SystemPortError, SystemSerial};
pub use uart::{NoSuchRate, UartError, UartPort};
