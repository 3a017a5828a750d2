//! Lengths that separate the lows of standard speed. Those between two limits are half-way, since a pulse in between breaks both.

use slotwise_limits::figures as f;

/// Resets from here on: between tLOW0 at most and tRSTL at least.
pub(super) const RESET_NS: u64 = f::WRITE_ZERO_LOW_MOST_NS.midpoint(f::RESET_LOW_LEAST_NS);
/// Written zeros from here on: between tLOW1 at most and tLOW0 at least.
pub(super) const ZERO_NS: u64 = f::WRITE_ONE_LOW_MOST_NS.midpoint(f::WRITE_ZERO_LOW_LEAST_NS);
/// No reset from here on (chosen): five times the longest that a datasheet speaks of, 960 us.
pub(super) const SHORT_NS: u64 = 5_000_000;
/// Nothing shorter is taken for a presence pulse wherever it is: tPDLOW at least, a third less.
pub(super) const PRESENCE_NS: u64 = f::PRESENCE_LOW_LEAST_NS / 3 * 2;
