//! A line's edges as a stream of bytes: the listener, the encoder on the chip, and the decoder of the host.
//!
//! Levels alternate, so an edge is the time since the one before and nothing else, in units of a quarter of a microsecond or less
//! ([`unit_ticks`]). Times are rounded down each from the start of the stream, so that their errors do not add up.
//!
//! | bytes | what |
//! |---|---|
//! | 00h to F7h | an edge after 0 to 247 units (61.75 us of 0.25 us) |
//! | F8h to FEh, then one byte | an edge after 248 to 2039 units: 248 + 256 (first - F8h) + second |
//! | FFh 00h, number | an edge after that many units |
//! | FFh 01h, 0 or 1 | the stream begins; the line is low or high |
//! | FFh 02h, number | no edge for that many units |
//! | FFh 03h, 4 numbers | edges were lost: units to the first that was lost, from there to the last, how many, and the level after it (0 or 1) |
//!
//! A number is its bits in groups of seven, the lowest first, bit 7 set in all but the last byte; at most ten bytes. The slots of a master that
//! makes 16 400 of them a second take one byte an edge, slower ones up to one and a half: of the two times of a slot at least
//! one is under 62 us, unless the slot takes 124 us.

mod decode;
mod encode;
mod listener;
#[cfg(test)]
mod tests;

pub use decode::{Decoder, Item, Unreadable};
pub use encode::{Encoder, Lost, Room};
pub use listener::Listener;

/// Largest number of units in one byte.
pub(crate) const ONE_BYTE: u64 = 0xF7;
/// First byte of two.
pub(crate) const TWO_BYTES: u8 = 0xF8;
/// Most units in two bytes.
pub(crate) const LAST_OF_TWO: u64 = 248 + 7 * 256 - 1;
/// What follows is a record.
pub(crate) const ESCAPE: u8 = 0xFF;

/// Record of an edge after a long time.
pub(crate) const LONG: u8 = 0;
/// Record of the beginning.
pub(crate) const BEGIN: u8 = 1;
/// Record of a time without an edge.
pub(crate) const QUIET: u8 = 2;
/// Record of lost edges.
pub(crate) const GAP: u8 = 3;

/// Ticks in a unit at a core clock: a quarter of a microsecond, or a little less where it is no whole number of them; at least one.
#[must_use]
pub const fn unit_ticks(hz: u32) -> u32 {
    let ticks = hz / 4_000_000;
    if ticks == 0 { 1 } else { ticks }
}
