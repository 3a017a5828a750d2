//! Lengths by which lows of standard speed are told apart. Those between two limits are half-way, since a pulse in between breaks both.
//!
//! All are computed from the DS18B20 datasheet (7/19), AC table.

/// Resets from here on: between tLOW0 at most 120 us and tRSTL at least 480 us.
pub(super) const RESET_NS: u64 = 300_000;
/// Written zeros from here on: between tLOW1 at most 15 us and tLOW0 at least 60 us.
pub(super) const ZERO_NS: u64 = 37_500;
/// Nothing shorter is taken for a presence pulse wherever it is: tPDLOW at least 60 us, a third less.
pub(super) const PRESENCE_NS: u64 = 40_000;
