//! How a line measures what its own calls cost, without an edge on the line.
//!
//! The pin is set to the level that it has, read, and the delay is called between two such calls, many times in a row, between two
//! reads of a counter. What a turn of such a loop costs by itself is measured the same way and taken off. The shortest of three rounds
//! counts, so that an interrupt in one of them does no harm.

use core::hint::black_box;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};

use super::{Overhead, SetupError};

/// Calls in a row.
const CALLS: u8 = 16;
/// How often each is measured.
const ROUNDS: u8 = 3;
/// What the delay is called for: the usual waits of a read slot. A delay that counts in steps is late by another part of a step in each.
const DELAYS_NS: [u32; 2] = [2_600, 9_300];
/// Fewer ticks for all delays of a round say nothing: an error of one is more than 5 %.
const LEAST_TICKS: u32 = 20;

/// A counter, and its rate in thousands of ticks per second.
pub(super) struct Counter<F> {
    pub(super) ticks: F,
    pub(super) khz: u32,
}

impl<F: FnMut() -> u32> Counter<F> {
    /// Ticks of all calls of a round together.
    fn round<E>(&mut self, mut call: impl FnMut() -> Result<(), E>) -> Result<u32, E> {
        let mut least = u32::MAX;
        for _ in 0..ROUNDS {
            let start = (self.ticks)();
            for number in 0..CALLS {
                black_box(number);
                call()?;
            }
            least = least.min((self.ticks)().wrapping_sub(start));
        }
        Ok(least)
    }

    /// Nanoseconds of one of the calls that took so many ticks together.
    // Not inlined: a small core divides in a function of its own.
    #[inline(never)]
    fn each_ns(&self, ticks: u32) -> u32 {
        const NS_OF_MS: u32 = 1_000_000 / CALLS as u32;
        /// A round does not take longer with any delay that a line could work with.
        const MOST_MS: u32 = 1_000;
        // In two parts and to a hundredth of the rate, so that 32 bits are enough for counters up to 6 GHz.
        let (ms, rest) = (ticks / self.khz.max(1), ticks % self.khz.max(1));
        ms.min(MOST_MS) * NS_OF_MS + rest * (NS_OF_MS / 100) / (self.khz / 100).max(1)
    }
}

/// Measures what the calls cost.
pub(super) fn measure<P: InputPin + OutputPin, F: FnMut() -> u32>(
    pin: &mut P,
    delay: &mut impl DelayNs,
    mut counter: Counter<F>,
) -> Result<Overhead, SetupError<P::Error>> {
    let turns = counter.round(|| Ok::<_, SetupError<P::Error>>(()))?;
    let write = counter.round(|| pin.set_high().map_err(SetupError::Pin))?;
    let read = counter.round(|| pin.is_high().map(|level| _ = black_box(level)).map_err(SetupError::Pin))?;
    // Between two edges, as in a slot: what is left over from the one call may overlap with what the next begins with.
    let mut between = |wait_ns: u32| {
        counter.round(|| {
            pin.set_high().map_err(SetupError::Pin)?;
            if wait_ns > 0 {
                delay.delay_ns(wait_ns);
            }
            pin.set_high().map_err(SetupError::Pin)
        })
    };
    let without = between(black_box(0))?;
    let [short_ns, long_ns] = DELAYS_NS;
    let short = between(black_box(short_ns))?.saturating_sub(without);
    let long = between(black_box(long_ns))?.saturating_sub(without);
    if long < LEAST_TICKS {
        return Err(SetupError::Counter);
    }
    let waited_ns = counter.each_ns(short) / 2 + counter.each_ns(long) / 2;
    let pin_write_ns = counter.each_ns(write.saturating_sub(turns));
    let pin_read_ns = counter.each_ns(read.saturating_sub(turns));
    Ok(Overhead {
        pin_write_ns,
        // Between the release and the sample there is also what setting the pin does after the edge.
        pin_read_ns: pin_read_ns.max(pin_write_ns),
        delay_ns: waited_ns.saturating_sub(short_ns / 2 + long_ns / 2),
    })
}
