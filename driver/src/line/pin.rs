//! The bus master on GPIO pins: one open-drain pin, or separate in and out pins, timed by a delay.

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};

use super::calibrate::{Counter, measure};
use super::waits::{DEAD_TIME_NS, Waits};
use super::{
    InterruptMask, Line, LineError, LinePower, NoStrongPullUp, Overhead, Presence, SetupError, SwitchError, Timing,
    TimingError, Unmasked,
};

/// How many samples a low line has to rise before it counts as held, 5 ms: far beyond any RC product that could work.
const STUCK_AFTER_SAMPLES: u32 = 625;
/// How many samples a slot allows the line to recover, 104 us: a slot and its recovery may be stretched freely.
const RECOVERY_SAMPLES: u32 = 13;
/// How often a line that is low at the rise check is reset again. Where interrupts are not masked, one can delay the check into a
/// genuine presence pulse; a slow line is slow every time.
const RISE_CHECKS: u8 = 3;

/// A bus master on ordinary pins.
///
/// `P` reads the line and pulls it low: an open-drain pin (high = released), or a [`PinPair`](super::PinPair). The pin must never drive
/// the line high. The line needs a pull-up resistor, 4.7 kohm on short lines (DS18B20 datasheet (7/19), Figure 12).
///
/// ```text
///  supply ──┬───[4.7k]──┐
///           │           │           ┌─ VDD
///   P ──────┼───────────┴── line ───┤ DQ   sensor (more of them in parallel)
///           └─ S (strong pull-up)   └─ GND
/// ```
#[derive(Debug)]
pub struct PinLine<P, D, M = Unmasked, S = NoStrongPullUp> {
    pin: P,
    delay: D,
    mask: M,
    pull_up: S,
    timing: Timing,
    overhead: Overhead,
    waits: Waits,
    /// Whether the switch of the strong pull-up leads to the line.
    wired: bool,
    powered: bool,
}

impl<P, D> PinLine<P, D>
where
    P: InputPin + OutputPin,
    D: DelayNs,
{
    /// A line on `pin`, timed by `delay`. Releases the line.
    ///
    /// # Errors
    /// [`SetupError::Timing`] for a timing set outside the datasheet's limits, before the pin is touched; [`SetupError::Pin`] if the
    /// pin failed.
    pub fn new(mut pin: P, delay: D, timing: Timing) -> Result<Self, SetupError<P::Error>> {
        let overhead = Overhead::NONE;
        let waits = Waits::of(&timing, &overhead)?;
        pin.set_high().map_err(SetupError::Pin)?;
        Ok(Self {
            pin,
            delay,
            mask: Unmasked,
            pull_up: NoStrongPullUp,
            timing,
            overhead,
            waits,
            wired: true,
            powered: false,
        })
    }
}

impl<P, D, M, S: LinePower<P>> PinLine<P, D, M, S> {
    /// The same line with `mask` around each slot.
    pub fn with_mask<N: InterruptMask>(self, mask: N) -> PinLine<P, D, N, S> {
        let Self { pin, delay, pull_up, timing, overhead, waits, wired, powered, .. } = self;
        PinLine { pin, delay, mask, pull_up, timing, overhead, waits, wired, powered }
    }

    /// The same line with another strong pull-up, for parasite-powered sensors: a switch, or [`DataPinPullUp`](super::DataPinPullUp). Both
    /// are opened. At least a microsecond passes between the release of the pin and the strong pull-up, and from there to the next low.
    ///
    /// # Errors
    /// [`SwitchError`] if one of them failed.
    pub fn with_strong_pull_up<T: LinePower<P>>(mut self, mut pull_up: T) -> Result<PinLine<P, D, M, T>, SwitchError> {
        self.pull_up.power_off(&mut self.pin)?;
        pull_up.power_off(&mut self.pin)?;
        let Self { pin, delay, mask, timing, overhead, waits, .. } = self;
        Ok(PinLine { pin, delay, mask, pull_up, timing, overhead, waits, wired: true, powered: false })
    }

    /// The same line with the costs of calls on this chip taken off its waits.
    ///
    /// # Errors
    /// [`TimingError`] if no edge times within the datasheet's limits can be made of such calls.
    pub fn with_overhead(mut self, overhead: Overhead) -> Result<Self, TimingError> {
        self.set_overhead(overhead)?;
        Ok(self)
    }

    /// Takes other costs of calls off the waits, from the next operation on.
    ///
    /// # Errors
    /// [`TimingError`] if no edge times within the datasheet's limits can be made of such calls; nothing has changed then.
    pub fn set_overhead(&mut self, overhead: Overhead) -> Result<(), TimingError> {
        self.waits = Waits::of_checked(&self.timing, &overhead)?;
        self.overhead = overhead;
        Ok(())
    }

    /// What calls cost on this chip, as far as it is known.
    pub fn overhead(&self) -> Overhead {
        self.overhead
    }

    /// Says whether the switch of the strong pull-up leads to this line, for firmware that serves boards with and without one.
    /// Where it does not, parasite-powered sensors are refused as by a line without a switch.
    pub fn set_strong_pull_up_wired(&mut self, wired: bool) {
        self.wired = wired;
    }

    /// The timing set in use.
    pub fn timing(&self) -> Timing {
        self.timing
    }

    /// Uses another timing set from the next operation on.
    ///
    /// # Errors
    /// [`TimingError`] if it is outside the datasheet's limits, or calls on this chip are too slow for it; nothing has changed then.
    pub fn set_timing(&mut self, timing: Timing) -> Result<(), TimingError> {
        self.waits = Waits::of(&timing, &self.overhead)?;
        self.timing = timing;
        Ok(())
    }

    /// Gives pin, delay, mask and strong pull-up back. Opens the switch; check its pin if that matters, as an error of it is not returned.
    pub fn release(mut self) -> (P, D, M, S) {
        let _ = self.pull_up.power_off(&mut self.pin);
        (self.pin, self.delay, self.mask, self.pull_up)
    }
}

/// Calls the delay, unless the calls around it take long enough.
fn pause(delay: &mut impl DelayNs, wait_ns: u32) {
    if wait_ns > 0 {
        delay.delay_ns(wait_ns);
    }
}

impl<P, D, M, S> PinLine<P, D, M, S>
where
    P: InputPin + OutputPin,
    D: DelayNs,
    M: InterruptMask,
    S: LinePower<P>,
{
    /// Measures by a counter of `tick_hz` what calls cost on this chip, takes that off the waits from now on, and returns it.
    ///
    /// Makes no edge on the line: the pin is set to the level that it has. Takes about a millisecond, in which interrupts are not masked; the
    /// counter must count all 32 bits and go round at their end, as the cycle counter of a core does. A counter of 1 MHz is enough for
    /// the delay, but measures a pin call to within a sixteenth of a microsecond only.
    ///
    /// Without a counter the costs given to [`with_overhead`](Self::with_overhead) stay in force.
    ///
    /// # Errors
    /// [`SetupError::Counter`] if it does not count; [`SetupError::Timing`] if the calls are too slow, or the delay too coarse, for the
    /// datasheet's limits; [`SetupError::Pin`] if the pin failed. Nothing has changed then.
    pub fn calibrate(&mut self, tick_hz: u32, ticks: impl FnMut() -> u32) -> Result<Overhead, SetupError<P::Error>> {
        let counter = Counter { ticks, khz: tick_hz / 1_000 };
        let overhead = measure(&mut self.pin, &mut self.delay, counter)?;
        self.set_overhead(overhead)?;
        Ok(overhead)
    }

    fn is_high(&mut self) -> Result<bool, LineError<P::Error>> {
        self.pin.is_high().map_err(LineError::Master)
    }

    /// Samples the line up to `samples` times until it is high. Returns how often it was low before, or None if it stayed low.
    fn wait_high(&mut self, samples: u32) -> Result<Option<u32>, LineError<P::Error>> {
        for sample in 0..samples {
            if self.is_high()? {
                return Ok(Some(sample));
            }
            pause(&mut self.delay, self.waits.between_samples_ns);
        }
        Ok(None)
    }

    /// Names the fault of a line that is low when it should be high.
    fn low_line(&mut self) -> Result<LineError<P::Error>, LineError<P::Error>> {
        Ok(match self.wait_high(STUCK_AFTER_SAMPLES)? {
            Some(_) => LineError::NeverIdleHigh,
            None => LineError::StuckLow,
        })
    }

    /// Makes sure that the line is high before a slot pulls it low, and gives a slow one more time.
    fn recover(&mut self) -> Result<(), LineError<P::Error>> {
        match self.wait_high(RECOVERY_SAMPLES)? {
            Some(0) => Ok(()),
            Some(_) => {
                // High for the master is not yet high for every sensor: they need their recovery from here on.
                self.delay.delay_ns(self.timing.slot_ns - self.timing.write_zero_low_ns);
                Ok(())
            }
            None => Err(self.low_line()?),
        }
    }

    /// The part of a slot with its edges and its sample, without what follows up to the next slot. `sample_ns` is the wait from the
    /// release to the sample of a slot that writes 1; `then` is still inside the mask.
    fn open_slot(
        &mut self,
        bit: bool,
        sample_ns: u32,
        then: impl FnOnce(&mut P, &mut D, &mut S) -> Result<(), SwitchError>,
    ) -> Result<bool, LineError<P::Error>> {
        self.recover()?;
        let Self { pin, delay, mask, pull_up, waits, .. } = self;
        let low_ns = if bit { waits.start_low_ns } else { waits.zero_low_ns };
        mask.masked(|| {
            pin.set_low().map_err(LineError::Master)?;
            pause(delay, low_ns);
            pin.set_high().map_err(LineError::Master)?;
            let level = if bit {
                pause(delay, sample_ns);
                pin.is_high().map_err(LineError::Master)?
            } else {
                false
            };
            // Nothing is switched onto a line that another party holds.
            if level == bit {
                then(pin, delay, pull_up)?;
            }
            Ok(level)
        })
    }

    /// One reset pulse. `None`: the line was low at the rise check.
    // Not inlined into `reset`: that would keep its locals on the stack below the search, the deepest path (16 B on thumbv6m).
    #[inline(never)]
    fn reset_once(&mut self) -> Result<Option<Presence>, LineError<P::Error>> {
        if self.wait_high(STUCK_AFTER_SAMPLES)?.is_none() {
            return Err(LineError::StuckLow);
        }
        self.pin.set_low().map_err(LineError::Master)?;
        pause(&mut self.delay, self.waits.reset_low_ns);
        // An interrupt in here would delay the sample until sensors are answering; a periodic one could do so on each reset.
        let Self { pin, delay, mask, waits, .. } = self;
        let risen = mask.masked(|| {
            pin.set_high()?;
            pause(delay, waits.rise_check_ns);
            pin.is_high()
        });
        let risen = risen.map_err(LineError::Master)?;
        let mut presence = Presence::Absent;
        let mut left_ns = self.waits.presence_ns;
        loop {
            pause(&mut self.delay, self.waits.between_samples_ns);
            let is_high = self.is_high()?;
            if left_ns <= self.waits.samples_every_ns {
                if !is_high {
                    return Err(self.low_line()?);
                }
                return Ok(risen.then_some(presence));
            }
            left_ns -= self.waits.samples_every_ns;
            if !is_high {
                presence = Presence::Present;
            }
        }
    }
}

impl<P, D, M, S> Line for PinLine<P, D, M, S>
where
    P: InputPin + OutputPin,
    D: DelayNs,
    M: InterruptMask,
    S: LinePower<P>,
{
    type Error = P::Error;

    fn reset(&mut self) -> Result<Presence, LineError<Self::Error>> {
        self.end_power()?;
        for _ in 0..RISE_CHECKS {
            if let Some(presence) = self.reset_once()? {
                return Ok(presence);
            }
        }
        // Too late for the rise, or sampled too late? No sensor pulls in this slot, a 1 of the ROM command that is due.
        let is_slow = !self.open_slot(true, self.waits.rise_check_ns, |_, _, _| Ok(()))?;
        Err(if is_slow { LineError::NeverIdleHigh } else { LineError::MasterTooLate })
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Self::Error>> {
        self.end_power()?;
        let level = self.open_slot(bit, self.waits.sample_ns, |_, _, _| Ok(()))?;
        pause(&mut self.delay, if bit { self.waits.after_sample_ns } else { self.waits.recovery_ns });
        Ok(level)
    }

    fn delay_us(&mut self, us: u32) {
        self.delay.delay_us(us);
    }

    fn slot_us(&self) -> u32 {
        // A division by 1000 to within a thousandth, for cores without a divider: 1049 / 2^20. Slots are far below 4 ms.
        (self.timing.slot_ns.min(4_000_000) * 1_049) >> 20
    }

    fn suits(&self, family_code: u8) -> Result<(), TimingError> {
        self.timing.suits(family_code)
    }

    fn write_byte_and_power(&mut self, byte: u8) -> Result<(), LineError<Self::Error>> {
        if !S::FITTED || !self.wired {
            return Err(LineError::StrongPullUp(SwitchError::Missing));
        }
        for position in 0..7 {
            self.write_bit(byte >> position & 1 == 1)?;
        }
        // No recovery after the last bit: the switch has 10 us to close, an upper limit, so it closes inside the mask.
        let bit = byte >> 7 == 1;
        self.powered = true;
        // The release of a 1 is long past when it is sampled.
        let dead_ns = if bit { 0 } else { self.waits.dead_ns };
        let level = self.open_slot(bit, self.waits.sample_ns, |pin, delay, pull_up| {
            pause(delay, dead_ns);
            pull_up.power_on(pin)
        })?;
        if level != bit {
            self.end_power()?;
            return Err(LineError::Disturbed);
        }
        Ok(())
    }

    fn end_power(&mut self) -> Result<(), LineError<Self::Error>> {
        if S::FITTED && self.powered {
            self.pull_up.power_off(&mut self.pin)?;
            self.powered = false;
            // Nothing pulls the line low before the strong pull-up has released it.
            self.delay.delay_ns(DEAD_TIME_NS);
        }
        Ok(())
    }
}
