//! The way to a chip by a debug probe: find the probe, attach, see that it is the right chip, flash what is not there yet, and
//! carry frames through the chip's memory (RTT).
//!
//! The emulated chip is reached by exactly this way: its debug probe is one among others.

mod attach;
mod chips;
mod error;
mod flash;
mod image;
mod logs;
mod packed;
mod rtt;
mod select;

#[cfg(test)]
mod tests;

pub use attach::{Attached, attach};
pub use chips::family_of;
pub use error::ChipError;
pub use flash::{FlashListener, FlashNews, Flashed, SilentListener, bring_up};
pub use image::{Identity, Image, ImageError};
pub use packed::{chosen_image, packed_image};
pub use rtt::{RttCarrier, TimeSource, WallTime, open_rtt};
pub use select::{Listed, list, open_debug_probe};
