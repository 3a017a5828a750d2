//! Layer 3: thermometers, from Convert T to a temperature with its doubts.
//!
//! [`convert`] (or [`Conversion`], to wait in another way) makes sensors measure, [`Thermometer::read`] fetches the
//! number. A [`Reading`] is never silently wrong: what cannot be a temperature is a [`ReadError`], what may not be the
//! temperature asked for carries a [`Doubt`].

mod broadcast;
mod conversion;
mod family;
mod proof;
mod reading;
mod receipt;
mod resolution;
mod round;
mod scratchpad;
mod sensor;
mod settings;
mod temperature;

pub use broadcast::{ReadBack, write_all};
pub use conversion::{CONVERSION_MAX_US, Conversion, ConvertError, Converted, Progress, Supply, Wait, convert, supply};
pub use family::Family;
pub use reading::{Doubt, Doubts, Evidence, Reading};
pub use receipt::Receipt;
pub use resolution::Resolution;
pub use round::{Round, RoundOver, Started};
pub use scratchpad::{DecodeError, Decoded, FrameError, Scratchpad};
pub use sensor::{ReadError, Saved, Thermometer, UnknownFamily};
pub use settings::{AlarmLimits, AlarmRule, Settings};
pub use temperature::Temperature;
