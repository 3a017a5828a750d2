//! The way to a chip by a debug probe: find the probe, attach, see that it is the right chip, flash what is not there yet, and
//! carry frames through the chip's memory (RTT).
//!
//! The emulated chip is reached by exactly this way: its debug probe is one among others.

#[cfg(feature = "debug-probe")]
mod attach;
#[cfg(feature = "debug-probe")]
mod chips;
mod error;
#[cfg(feature = "debug-probe")]
mod flash;
mod identity;
#[cfg(feature = "debug-probe")]
mod image;
#[cfg(feature = "debug-probe")]
mod logs;
mod news;
#[cfg(feature = "debug-probe")]
mod packed;
#[cfg(feature = "debug-probe")]
mod rtt;
#[cfg(feature = "debug-probe")]
mod select;
mod time;

#[cfg(test)]
mod tests;

pub use error::{ChipError, ImageError};
pub use identity::{Identity, Role};
pub use news::{FlashListener, FlashNews, Flashed, SilentListener};
pub use time::{TimeSource, WallTime};

#[cfg(feature = "debug-probe")]
pub use attach::{Attached, attach};
#[cfg(feature = "debug-probe")]
pub use chips::family_of;
#[cfg(feature = "debug-probe")]
pub use flash::bring_up;
#[cfg(feature = "debug-probe")]
pub use image::Image;
#[cfg(feature = "debug-probe")]
pub use packed::{chosen_image, packed_image, packed_player};
#[cfg(feature = "debug-probe")]
pub use rtt::{RttCarrier, open_rtt};
#[cfg(feature = "debug-probe")]
pub use select::{Listed, list, open_debug_probe};
