//! The times of the slot loop in ticks of its clock.

use crate::clock::Clock;
use crate::port::AWAY_US;
use crate::timing::Timing;

/// Times in ticks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ticks {
    pub(crate) presence_delay: u32,
    pub(crate) presence_width: u32,
    pub(crate) sample: u32,
    pub(crate) zero_hold: u32,
    pub(crate) reset_detect: u32,
    /// Longer than a 0 may be low: DS18B20 (7/19) tLOW0, 120 us. What is low for longer will be a reset.
    pub(crate) longest_slot: u32,
    /// Until then a reset goes on for [`AWAY_US`] more: it takes 480 us (DS18B20 (7/19) tRSTL).
    pub(crate) reset_free: u32,
    pub(crate) long_idle: u32,
}

impl Ticks {
    pub(crate) const fn new(timing: &Timing, clock: Clock) -> Self {
        Self {
            presence_delay: clock.ticks_of_ns(timing.presence_delay_ns),
            presence_width: clock.ticks_of_ns(timing.presence_width_ns),
            sample: clock.ticks_of_ns(timing.sample_ns),
            zero_hold: clock.ticks_of_ns(timing.zero_hold_ns),
            reset_detect: clock.ticks_of_ns(timing.reset_detect_ns),
            longest_slot: clock.ticks_of_ns(125_000),
            reset_free: clock.ticks_of_ns((480 - AWAY_US) * 1_000),
            long_idle: clock.ticks_of_ns(2_000_000),
        }
    }
}
