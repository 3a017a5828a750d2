//! A pin and a clock as a small chip has them: one register access each, no more.

use crate::registers::{read, write};
use core::convert::Infallible;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};

const LEVEL: usize = 0;
const RELEASE: usize = 1;
const PULL_LOW: usize = 2;
const TICKS: usize = 3;
/// Ticks of the clock in a microsecond.
const TICKS_PER_US: u32 = 16;

/// An open-drain pin.
#[derive(Debug)]
pub struct Pin;

impl ErrorType for Pin {
    type Error = Infallible;
}

impl InputPin for Pin {
    #[inline]
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(read(LEVEL) & 1 != 0)
    }

    #[inline]
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(read(LEVEL) & 1 == 0)
    }
}

impl OutputPin for Pin {
    #[inline]
    fn set_high(&mut self) -> Result<(), Infallible> {
        write(RELEASE, 1);
        Ok(())
    }

    #[inline]
    fn set_low(&mut self) -> Result<(), Infallible> {
        write(PULL_LOW, 1);
        Ok(())
    }
}

/// A delay that watches a free-running clock of 16 MHz.
#[derive(Debug)]
pub struct Clock;

impl Clock {
    /// Ticks in a second.
    pub const HZ: u32 = TICKS_PER_US * 1_000_000;

    /// The clock itself.
    #[inline]
    #[must_use]
    pub fn ticks() -> u32 {
        read(TICKS)
    }

    fn wait(ticks: u32) {
        let start = read(TICKS);
        while read(TICKS).wrapping_sub(start) < ticks {}
    }
}

impl DelayNs for Clock {
    /// A tick for every 64 ns, which is a little long, instead of a division that the chip has not.
    fn delay_ns(&mut self, ns: u32) {
        Self::wait(ns >> 6);
    }

    fn delay_us(&mut self, us: u32) {
        Self::wait(us * TICKS_PER_US);
    }
}
