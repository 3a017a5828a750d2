//! How a line measures what its own calls cost, without an edge on the line.
//!
//! The pin is set to the level that it has, read, and the delay is called, each many times in a row, between two looks at a counter.
//! What a turn of such a loop costs by itself is measured the same way and taken off. The shortest of three rounds counts, so that
//! an interrupt in one of them does no harm.

use core::hint::black_box;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};

use super::{Overhead, SetupError};

/// Calls in a row.
const CALLS: u16 = 16;
/// How often each is measured.
const ROUNDS: u8 = 3;
/// What the delay is called for first, and how much more each time: a delay that counts in steps is long by half a step on average.
/// Chosen: the times of a slot.
const DELAY_NS: (u16, u16) = (2_000, 687);
/// Fewer ticks for all calls of a round say nothing: an error of one is more than 5 %.
const LEAST_TICKS: u32 = 20;

/// A counter, and its rate in thousands of ticks per second.
pub(super) struct Counter<F> {
    pub(super) ticks: F,
    pub(super) khz: u32,
}

impl<F: FnMut() -> u32> Counter<F> {
    /// Ticks that `call` takes each time, all of a round together.
    fn round<E>(&mut self, mut call: impl FnMut(u16) -> Result<(), E>) -> Result<u32, E> {
        let mut least = u32::MAX;
        for _ in 0..ROUNDS {
            let start = (self.ticks)();
            for number in 0..CALLS {
                call(black_box(number))?;
            }
            least = least.min((self.ticks)().wrapping_sub(start));
        }
        Ok(least)
    }

    /// Nanoseconds of one of the calls that took so many ticks together.
    fn each_ns(&self, ticks: u32) -> u32 {
        const NS_OF_KHZ: u32 = 1_000_000 / CALLS as u32;
        ticks.saturating_mul(NS_OF_KHZ) / self.khz.max(1)
    }
}

/// Measures what the calls cost.
pub(super) fn measure<P: InputPin + OutputPin, F: FnMut() -> u32>(
    pin: &mut P,
    delay: &mut impl DelayNs,
    mut counter: Counter<F>,
) -> Result<Overhead, SetupError<P::Error>> {
    let turns = counter.round(|_| Ok::<_, SetupError<P::Error>>(()))?;
    let write = counter.round(|_| pin.set_high().map_err(SetupError::Pin))?;
    let read = counter.round(|_| pin.is_high().map(|level| _ = black_box(level)).map_err(SetupError::Pin))?;
    let (first_ns, more_ns) = DELAY_NS;
    let waited = counter.round(|number| {
        delay.delay_ns(u32::from(first_ns + more_ns * number));
        Ok::<_, SetupError<P::Error>>(())
    })?;
    // All calls of the delay together take longer than any of the pin: a counter that cannot tell that stands still, or is too slow.
    if waited < LEAST_TICKS {
        return Err(SetupError::Counter);
    }
    let requested_ns = u32::from(first_ns) + u32::from(more_ns) * u32::from(CALLS - 1) / 2;
    Ok(Overhead {
        pin_write_ns: counter.each_ns(write.saturating_sub(turns)),
        pin_read_ns: counter.each_ns(read.saturating_sub(turns)),
        delay_ns: counter.each_ns(waited.saturating_sub(turns)).saturating_sub(requested_ns),
    })
}
