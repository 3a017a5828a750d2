//! The clock that times the line.

use embedded_hal::digital::InputPin;

/// A counter that runs at a constant rate, and waits by it.
pub trait Clock {
    /// Ticks per second, up to a thousand million.
    fn hz(&self) -> u32;

    /// The counter, which goes from its highest value back to 0. All 32 bits must count; a chip with a shorter counter makes it
    /// longer in here.
    fn ticks(&self) -> u32;

    /// A sample that the driver took by itself, just now. A clock that knows the moment of a change reports that moment, with grain 0.
    #[inline(always)]
    fn own_sample(&self, high: bool) -> LineSample {
        // Nothing is known more finely than the counter counts.
        LineSample { at: self.ticks(), grain: 1, high }
    }

    /// Waits until `ticks` have passed since `since`. If there is a pin to be watched, reports its level: all samples, or
    /// at least each change of its level.
    fn wait<P: InputPin>(&self, since: u32, ticks: u32, watched: Option<&mut P>, seen: impl FnMut(LineSample)) {
        poll(self, since, ticks, watched, seen);
    }
}

/// A sample of the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LineSample {
    /// When it was taken, by the counter.
    pub at: u32,
    /// Time since the sample before. 0 from a clock that knows the very moment of a change.
    pub grain: u32,
    /// Whether the line was high.
    pub high: bool,
}

/// Waits by reading the counter, and the pin, as often as the chip can.
pub fn poll<C: Clock + ?Sized, P: InputPin>(
    clock: &C,
    since: u32,
    ticks: u32,
    watched: Option<&mut P>,
    mut seen: impl FnMut(LineSample),
) {
    let Some(pin) = watched else {
        while clock.ticks().wrapping_sub(since) < ticks {}
        return;
    };
    let mut sampled = clock.ticks();
    while sampled.wrapping_sub(since) < ticks {
        let high = pin.is_high().unwrap_or(true);
        let at = clock.ticks();
        // Nothing is known more finely than the counter counts.
        seen(LineSample { at, grain: at.wrapping_sub(sampled).max(1), high });
        sampled = at;
    }
}
