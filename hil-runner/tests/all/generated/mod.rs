//! Captures that are made here from the datasheets, so that all that is in them is known: legal ones, and such with one
//! fault.
//!
//! ```text
//! sensor, master ── maker, blocks of a conversation ── legal
//!                         └── twist (one time or bit is another) ── faults, by class
//! line (who pulls when) ── sampling ── VCD
//! ```
//!
//! Nothing of this is shared with the decoder, the driver or the virtual line: the CRC, the search, the scratchpads and
//! every time are written anew. Figures are those of the DS18B20 datasheet (7/19), AC table and figures 9 to 18, if
//! nothing else is said.

pub mod blocks;
pub mod faults;
pub mod legal;
pub mod line;
pub mod maker;
pub mod master;
pub mod rng;
pub mod score;
pub mod sensor;
pub mod twist;
