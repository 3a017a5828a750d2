//! What calls cost on a chip, in cycles of its core.

use slotwise::line::Overhead;

/// Costs of calls in core cycles; they stay when the clock changes, unless the flash needs other wait states.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OverheadCycles {
    /// From the call that sets the pin to the edge on the line.
    pub pin_write: u32,
    /// Reading the pin.
    pub pin_read: u32,
    /// Calling the delay, beyond the time asked for.
    pub delay: u32,
}

impl OverheadCycles {
    /// In time, at this core clock.
    #[must_use]
    pub const fn at(self, core_hz: u32) -> Overhead {
        Overhead {
            pin_write_ns: ns(self.pin_write, core_hz),
            pin_read_ns: ns(self.pin_read, core_hz),
            delay_ns: ns(self.delay, core_hz),
        }
    }
}

const fn ns(cycles: u32, core_hz: u32) -> u32 {
    match cycles.saturating_mul(1_000).checked_div(core_hz / 1_000_000) {
        Some(ns) => ns,
        None => 0,
    }
}
