//! The bus master on GPIO pins: one open-drain pin, or separate in and out pins, timed by a delay.

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};

use super::{
    InterruptMask, Line, LineError, NoStrongPullUp, Overhead, Presence, StrongPullUp, SwitchError, Timing, Unmasked,
};

/// Spacing of the looks at the line while presence pulses are due. The shortest legal pulse is 60 us, so each is seen
/// several times, and an interrupt between two looks can hide one only if it lasts as long as the pulse.
const PRESENCE_STEP_NS: u32 = 8_000;
/// How long a low line may take to come back before it counts as held: far beyond any RC product that could work.
const STUCK_AFTER_STEPS: u32 = 500;
/// Spacing of the looks at a line that is low when it should be high.
const IDLE_STEP_NS: u32 = 10_000;
/// How many such looks a slot allows the line to recover: a slot and its recovery may be stretched freely.
const RECOVERY_STEPS: u32 = 10;
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
    /// [`LineError::Master`] if the pin failed.
    pub fn new(mut pin: P, delay: D, timing: Timing) -> Result<Self, LineError<P::Error>> {
        pin.set_high().map_err(LineError::Master)?;
        Ok(Self {
            pin,
            delay,
            mask: Unmasked,
            pull_up: NoStrongPullUp,
            timing,
            overhead: Overhead::default(),
            wired: true,
            powered: false,
        })
    }
}

impl<P, D, M, S: StrongPullUp> PinLine<P, D, M, S> {
    /// The same line with `mask` around each slot.
    pub fn with_mask<N: InterruptMask>(self, mask: N) -> PinLine<P, D, N, S> {
        let Self { pin, delay, pull_up, timing, overhead, wired, powered, .. } = self;
        PinLine { pin, delay, mask, pull_up, timing, overhead, wired, powered }
    }

    /// The same line with another strong pull-up, for parasite-powered sensors. Both switches are opened.
    ///
    /// # Errors
    /// [`SwitchError`] if one of them failed.
    pub fn with_strong_pull_up<T: StrongPullUp>(mut self, mut pull_up: T) -> Result<PinLine<P, D, M, T>, SwitchError> {
        self.pull_up.off()?;
        pull_up.off()?;
        let Self { pin, delay, mask, timing, overhead, .. } = self;
        Ok(PinLine { pin, delay, mask, pull_up, timing, overhead, wired: true, powered: false })
    }

    /// The same line with the costs of calls on this chip taken off its waits.
    #[must_use]
    pub fn with_overhead(self, overhead: Overhead) -> Self {
        Self { overhead, ..self }
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
    pub fn set_timing(&mut self, timing: Timing) {
        self.timing = timing;
    }

    /// Gives pin, delay, mask and strong pull-up back. Opens the switch; if that fails, its own pin still tells.
    pub fn release(mut self) -> (P, D, M, S) {
        let _ = self.pull_up.off();
        (self.pin, self.delay, self.mask, self.pull_up)
    }
}

/// A wait between two calls, worked out before the first of them: within a slot a slow core has no time for it.
#[derive(Clone, Copy)]
struct Pause {
    /// What to ask of the delay; nothing where calling it would take longer than what is left.
    wait_ns: Option<u32>,
    /// The time that really passes: more than the target where the calls alone take longer, less where the delay is not called.
    passed_ns: u32,
}

impl Pause {
    /// Until `target_ns` have passed, of which the calls around the wait take `spent_ns`.
    fn until(overhead: &Overhead, target_ns: u32, spent_ns: u32) -> Self {
        let left_ns = target_ns.saturating_sub(spent_ns);
        if left_ns <= overhead.delay_ns {
            return Self { wait_ns: None, passed_ns: spent_ns };
        }
        Self { wait_ns: Some(left_ns - overhead.delay_ns), passed_ns: target_ns }
    }

    fn make(self, delay: &mut impl DelayNs) {
        if let Some(ns) = self.wait_ns {
            delay.delay_ns(ns);
        }
    }
}

impl<P, D, M, S> PinLine<P, D, M, S>
where
    P: InputPin + OutputPin,
    D: DelayNs,
    M: InterruptMask,
    S: StrongPullUp,
{
    fn is_high(&mut self) -> Result<bool, LineError<P::Error>> {
        self.pin.is_high().map_err(LineError::Master)
    }

    fn pause(&mut self, target_ns: u32, spent_ns: u32) -> u32 {
        let pause = Pause::until(&self.overhead, target_ns, spent_ns);
        pause.make(&mut self.delay);
        pause.passed_ns
    }

    /// Looks up to `steps` times whether the line has gone high, and returns at which look it had.
    fn wait_high(&mut self, steps: u32) -> Result<Option<u32>, LineError<P::Error>> {
        for step in 0..steps {
            if self.is_high()? {
                return Ok(Some(step));
            }
            self.pause(IDLE_STEP_NS, self.overhead.pin_read_ns);
        }
        Ok(None)
    }

    /// Names the fault of a line that is low when it should be high.
    fn low_line(&mut self) -> Result<LineError<P::Error>, LineError<P::Error>> {
        Ok(match self.wait_high(STUCK_AFTER_STEPS)? {
            Some(_) => LineError::NeverIdleHigh,
            None => LineError::StuckLow,
        })
    }

    /// Makes sure that the line is high before a slot pulls it low, and gives a slow one more time.
    fn recover(&mut self) -> Result<(), LineError<P::Error>> {
        match self.wait_high(RECOVERY_STEPS)? {
            Some(0) => Ok(()),
            Some(_) => {
                // High for the master is not yet high for every sensor: they need their recovery from here on.
                self.pause(self.timing.slot_ns.saturating_sub(self.timing.write_zero_low_ns), 0);
                Ok(())
            }
            None => Err(self.low_line()?),
        }
    }

    /// The part of a slot with its edges and its sample, without what follows up to the next slot. `then` is still inside the
    /// mask.
    fn open_slot(
        &mut self,
        bit: bool,
        then: impl FnOnce(&mut S) -> Result<(), SwitchError>,
    ) -> Result<bool, LineError<P::Error>> {
        self.recover()?;
        let Self { pin, delay, mask, pull_up, timing, overhead, .. } = self;
        let low_ns = if bit { timing.start_low_ns } else { timing.write_zero_low_ns };
        let low = Pause::until(overhead, low_ns, overhead.pin_write_ns);
        let to_sample_ns = timing.sample_ns.saturating_sub(low.passed_ns);
        let to_sample = Pause::until(overhead, to_sample_ns, overhead.pin_read_ns);
        mask.masked(|| {
            pin.set_low().map_err(LineError::Master)?;
            low.make(delay);
            pin.set_high().map_err(LineError::Master)?;
            let level = if bit {
                to_sample.make(delay);
                pin.is_high().map_err(LineError::Master)?
            } else {
                false
            };
            then(pull_up)?;
            Ok(level)
        })
    }

    /// One reset pulse. `None`: the line was low at the rise check.
    // Not inlined into `reset`: that would keep its locals on the stack below the search, the deepest path (16 B on thumbv6m).
    #[inline(never)]
    fn reset_once(&mut self) -> Result<Option<Presence>, LineError<P::Error>> {
        let Overhead { pin_write_ns, pin_read_ns, .. } = self.overhead;
        if self.wait_high(STUCK_AFTER_STEPS)?.is_none() {
            return Err(LineError::StuckLow);
        }
        self.pin.set_low().map_err(LineError::Master)?;
        self.pause(self.timing.reset_low_ns, pin_write_ns);
        // An interrupt in here would have it look when sensors are already answering; one that comes round with the resets, each time.
        let Self { pin, delay, mask, timing, overhead, .. } = self;
        let rise = Pause::until(overhead, timing.rise_check_ns, pin_read_ns);
        let risen = mask.masked(|| {
            pin.set_high()?;
            rise.make(delay);
            pin.is_high()
        });
        let risen = risen.map_err(LineError::Master)?;
        let mut presence = Presence::Nobody;
        let mut remaining_ns = self.timing.reset_high_ns.saturating_sub(self.timing.rise_check_ns);
        while remaining_ns > PRESENCE_STEP_NS {
            let passed_ns = self.pause(PRESENCE_STEP_NS, pin_read_ns);
            // At least something, so that there is an end to it.
            remaining_ns = remaining_ns.saturating_sub(passed_ns.max(1));
            if !self.is_high()? {
                presence = Presence::Present;
            }
        }
        self.pause(remaining_ns, pin_read_ns);
        if !self.is_high()? {
            return Err(self.low_line()?);
        }
        Ok(risen.then_some(presence))
    }
}

impl<P, D, M, S> Line for PinLine<P, D, M, S>
where
    P: InputPin + OutputPin,
    D: DelayNs,
    M: InterruptMask,
    S: StrongPullUp,
{
    type Error = P::Error;

    fn reset(&mut self) -> Result<Presence, LineError<Self::Error>> {
        self.end_power()?;
        for _ in 0..RISE_CHECKS {
            if let Some(presence) = self.reset_once()? {
                return Ok(presence);
            }
        }
        Err(LineError::NeverIdleHigh)
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Self::Error>> {
        self.end_power()?;
        let level = self.open_slot(bit, |_| Ok(()))?;
        let passed_ns = if bit { self.timing.sample_ns } else { self.timing.write_zero_low_ns };
        // The next slot looks at the line and pulls it low before its edge appears.
        self.pause(
            self.timing.slot_ns.saturating_sub(passed_ns),
            self.overhead.pin_read_ns + self.overhead.pin_write_ns,
        );
        Ok(level)
    }

    fn delay_us(&mut self, us: u32) {
        self.delay.delay_us(us);
    }

    fn slot_us(&self) -> u32 {
        // A division by 1000 to within a thousandth, for cores without a divider: 1049 / 2^20. Slots are far below 4 ms.
        (self.timing.slot_ns.min(4_000_000) * 1_049) >> 20
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
        let level = self.open_slot(bit, StrongPullUp::on)?;
        if level != bit {
            self.end_power()?;
            return Err(LineError::Disturbed);
        }
        Ok(())
    }

    fn end_power(&mut self) -> Result<(), LineError<Self::Error>> {
        if self.powered {
            self.pull_up.off()?;
            self.powered = false;
        }
        Ok(())
    }
}
