//! The waits of a timing set on the chip at hand, worked out once: within a slot a slow core has no time for it.
//!
//! A wait of `ns` takes the delay `ns` and the cost of its call, so a time between two edges is either the cost of the pin call alone,
//! or at least that and the cost of a delay call. Where the time of the set lies in between, the nearest one that the datasheet
//! allows is taken; times with a lower limit only are never shorter than the set says.

use super::{Overhead, Timing};

/// Write-1 and read low, tLOW1 (this and all that follows: DS18B20 datasheet (7/19), AC table).
const START_LOW_NS: (u32, u32) = (1_000, 15_000);
/// The sample of a read slot is before this, tRDV.
const READ_VALID_NS: u32 = 15_000;
/// Write-0 low, tLOW0.
const WRITE_ZERO_LOW_NS: (u32, u32) = (60_000, 120_000);
/// Shortest slot with its recovery, tSLOT + tREC.
const SLOT_NS: u32 = 61_000;
/// Shortest recovery, tREC.
const RECOVERY_NS: u32 = 1_000;
/// Reset low, tRSTL; the longest is that for parasite power (note 13).
const RESET_LOW_NS: (u32, u32) = (480_000, 960_000);
/// Shortest high time after a reset pulse, tRSTH.
const RESET_HIGH_NS: u32 = 480_000;

/// Family code of the DS28EA00 (from memory), and its shortest slot and recovery (its datasheet, electrical table).
const DS28EA00: u8 = 0x42;
const DS28EA00_SLOT_NS: u32 = 65_000;
const DS28EA00_RECOVERY_NS: u32 = 5_000;
/// Shortest presence pulse, tPDLOW: samples that are closer than this miss none.
const PRESENCE_NS: u32 = 60_000;

/// A sample is later than its set says only up to here, unless there is no other way: the latest of a timing set. Chosen.
const LATE_SAMPLE_NS: u32 = 14_000;
/// The least that a line has to rise between release and sample: 1.2 times the RC product of 1.8 us that [`Timing::SHORT_LINE`] is
/// good for.
const LEAST_RISE_NS: u32 = 2_200;
/// How much earlier than in a read slot the line is sampled after a reset pulse. Chosen: more than the grain of most delays.
const RISE_CHECK_EARLIER_NS: u32 = 500;
/// Spacing of the samples of the line while presence pulses are due. The shortest of them is seen several times, and an interrupt
/// between two samples can hide one only if it lasts as long as the pulse.
const SAMPLE_EVERY_NS: u32 = 8_000;
/// The least time in which neither the strong pull-up nor the pin drives the line, between the one and the other. Chosen: transistors with
/// a resistor at the gate take tenths of it; tSPON leaves 10 us.
pub(super) const DEAD_TIME_NS: u32 = 1_000;
/// Costs are taken for no more than this, with which no slot can be made.
const TOO_MUCH_NS: u32 = 1_000_000;
/// The shortest time that a delay is called for.
const SHORTEST_WAIT_NS: u32 = 1;

/// A limit of the datasheet that a timing set does not keep, by itself or with what calls cost on the chip at hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum TimingError {
    /// A call of the delay costs too much beyond the requested time. A delay that counts the ticks of a slow clock, or puts a thread
    /// to sleep, is too coarse for a pin: a slot must be sampled within 15 us.
    #[error("delay too coarse: a call costs {0} ns beyond the requested time, and a slot must be sampled within 15 us")]
    CoarseDelay(u32),
    /// Setting and reading the pin takes too long.
    #[error("pin too slow: setting and reading it costs {0} ns, and a slot must be sampled within 15 us")]
    SlowPin(u32),
    /// The low time that starts a write-1 or read slot.
    #[error("timing set: a write-1 slot is low for {0} ns, outside 1 to 15 us (tLOW1)")]
    StartLow(u32),
    /// The sample of a read slot.
    #[error("timing set: a read slot is sampled after {0} ns, not before 15 us (tRDV) and after the release")]
    Sample(u32),
    /// The low time of a write-0 slot.
    #[error("timing set: a write-0 slot is low for {0} ns, outside 60 to 120 us (tLOW0)")]
    WriteZeroLow(u32),
    /// From the falling edge of a slot to the next.
    #[error("timing set: a slot takes {0} ns, less than 61 us (tSLOT and tREC)")]
    Slot(u32),
    /// From the end of a write-0 slot to the next falling edge.
    #[error("timing set: a write-0 slot is followed by {0} ns of recovery, less than 1 us (tREC)")]
    Recovery(u32),
    /// The low time of a reset.
    #[error("timing set: a reset is low for {0} ns, outside 480 to 960 us (tRSTL)")]
    ResetLow(u32),
    /// From the rise after a reset pulse to the end of the reset.
    #[error("timing set: a reset is high for {0} ns after the rise check, less than 480 us (tRSTH)")]
    ResetHigh(u32),
    /// Slots and recovery that are too short for sensors of this family, though not for the others.
    #[error(
        "timing set: too fast for sensors of family {0:02X}h, which need slots of 65 us with 5 us of recovery: use the long-line set"
    )]
    TooFastFor(u8),
}

impl Timing {
    /// Holds the set against what sensors of this family need beyond the others: DS28EA00 (42h), slots of 65 us with 5 us of recovery
    /// (its datasheet, electrical table). Such a sensor may be found and read with a faster set for a while.
    ///
    /// # Errors
    /// [`TimingError::TooFastFor`] that family.
    pub const fn suits(&self, family_code: u8) -> Result<(), TimingError> {
        let recovery_ns = self.slot_ns.saturating_sub(self.write_zero_low_ns);
        if family_code == DS28EA00 && (self.slot_ns < DS28EA00_SLOT_NS || recovery_ns < DS28EA00_RECOVERY_NS) {
            return Err(TimingError::TooFastFor(family_code));
        }
        Ok(())
    }
}

/// What the delay is called for between two calls of the pin. 0: not at all.
#[derive(Clone, Copy, Debug)]
pub(super) struct Waits {
    /// From pulling low to the release that starts a write-1 or read slot.
    pub(super) start_low_ns: u32,
    /// From that release to the sample.
    pub(super) sample_ns: u32,
    /// From the sample to the next slot.
    pub(super) after_sample_ns: u32,
    /// From pulling low to the release of a write-0 slot.
    pub(super) zero_low_ns: u32,
    /// From that release to the next slot.
    pub(super) recovery_ns: u32,
    /// From pulling low to the release of a reset.
    pub(super) reset_low_ns: u32,
    /// From that release to the check that the line has risen.
    pub(super) rise_check_ns: u32,
    /// Between two samples of presence pulses.
    pub(super) between_samples_ns: u32,
    /// The time that passes from one of these samples to the next.
    pub(super) samples_every_ns: u32,
    /// From the rise check to the end of the reset.
    pub(super) presence_ns: u32,
    /// From the release to the strong pull-up.
    pub(super) dead_ns: u32,
}

/// A wait, and the time from the call before it to the end of the call behind it.
#[derive(Clone, Copy)]
struct Span {
    wait_ns: u32,
    passed_ns: u32,
}

impl Span {
    /// Without a call of the delay.
    const fn without(spent_ns: u32) -> Self {
        Self { wait_ns: 0, passed_ns: spent_ns }
    }

    /// At least `target_ns`, with a call of the delay, where pin calls take `spent_ns`.
    const fn with(delay_ns: u32, target_ns: u32, spent_ns: u32) -> Self {
        let calls_ns = spent_ns + delay_ns;
        let wait_ns = if target_ns > calls_ns { target_ns - calls_ns } else { SHORTEST_WAIT_NS };
        Self { wait_ns, passed_ns: calls_ns + wait_ns }
    }

    /// At least `target_ns`.
    const fn at_least(delay_ns: u32, target_ns: u32, spent_ns: u32) -> Self {
        if spent_ns >= target_ns { Self::without(spent_ns) } else { Self::with(delay_ns, target_ns, spent_ns) }
    }
}

const fn smaller(one: u32, other: u32) -> u32 {
    if one < other { one } else { other }
}

const fn larger(one: u32, other: u32) -> u32 {
    if one > other { one } else { other }
}

impl Waits {
    /// The waits that keep `timing` where calls cost `overhead`.
    #[inline]
    pub(super) const fn of(timing: &Timing, overhead: &Overhead) -> Result<Self, TimingError> {
        if let Err(error) = check(timing) {
            return Err(error);
        }
        Self::of_checked(timing, overhead)
    }

    /// The same for a timing set that is known to be inside the datasheet's limits.
    #[inline]
    pub(super) const fn of_checked(timing: &Timing, overhead: &Overhead) -> Result<Self, TimingError> {
        // No sum of costs overflows.
        let pin_write_ns = smaller(overhead.pin_write_ns, TOO_MUCH_NS);
        let pin_read_ns = smaller(overhead.pin_read_ns, TOO_MUCH_NS);
        let delay_ns = smaller(overhead.delay_ns, TOO_MUCH_NS);
        let costs = Overhead { pin_write_ns, pin_read_ns, delay_ns };
        let Some((low, sample)) = read_slot(timing, &costs) else {
            let without_delays_ns = larger(pin_write_ns, START_LOW_NS.0) + larger(pin_read_ns, least_rise_ns(timing));
            return Err(if without_delays_ns < READ_VALID_NS {
                TimingError::CoarseDelay(overhead.delay_ns)
            } else {
                TimingError::SlowPin(pin_write_ns + pin_read_ns)
            });
        };
        let repeated = Span::with(delay_ns, SAMPLE_EVERY_NS, pin_read_ns);
        if repeated.passed_ns >= PRESENCE_NS {
            return Err(TimingError::CoarseDelay(overhead.delay_ns));
        }
        // What is before the edge of the next slot: a sample of the line, and the call that pulls it low.
        let next_ns = pin_read_ns + pin_write_ns;
        let after_sample_ns = timing.slot_ns - low.passed_ns - sample.passed_ns;
        let recovery_ns = timing.slot_ns - timing.write_zero_low_ns;
        // A line that is too slow for a read slot is to be found by the reset, by its name.
        let earlier_ns = sample.passed_ns.saturating_sub(RISE_CHECK_EARLIER_NS);
        let rise_check = if sample.wait_ns == 0 {
            Span::without(pin_read_ns)
        } else {
            Span::with(delay_ns, smaller(timing.rise_check_ns, earlier_ns), pin_read_ns)
        };
        Ok(Self {
            start_low_ns: low.wait_ns,
            sample_ns: sample.wait_ns,
            after_sample_ns: Span::at_least(delay_ns, after_sample_ns, next_ns).wait_ns,
            // Lows with a limit close below: only half of the costs are taken off. What calls cost is not known better than that on
            // every chip, and a low that is longer by the other half harms nothing.
            zero_low_ns: Span::at_least(delay_ns / 2, timing.write_zero_low_ns, pin_write_ns / 2).wait_ns,
            recovery_ns: Span::at_least(delay_ns, recovery_ns, next_ns).wait_ns,
            reset_low_ns: Span::at_least(delay_ns / 2, timing.reset_low_ns, pin_write_ns / 2).wait_ns,
            rise_check_ns: rise_check.wait_ns,
            between_samples_ns: repeated.wait_ns,
            samples_every_ns: repeated.passed_ns,
            presence_ns: timing.reset_high_ns - timing.rise_check_ns,
            dead_ns: Span::at_least(delay_ns, DEAD_TIME_NS, 0).wait_ns,
        })
    }
}

/// Holds a timing set against the datasheet, as if calls cost nothing.
const fn check(timing: &Timing) -> Result<(), TimingError> {
    const fn is_within(ns: u32, (least_ns, most_ns): (u32, u32)) -> bool {
        least_ns <= ns && ns <= most_ns
    }
    let Timing { start_low_ns, sample_ns, write_zero_low_ns, slot_ns, reset_low_ns, rise_check_ns, reset_high_ns } =
        *timing;
    if !is_within(start_low_ns, START_LOW_NS) {
        return Err(TimingError::StartLow(start_low_ns));
    }
    if sample_ns >= READ_VALID_NS || sample_ns <= start_low_ns {
        return Err(TimingError::Sample(sample_ns));
    }
    if !is_within(write_zero_low_ns, WRITE_ZERO_LOW_NS) {
        return Err(TimingError::WriteZeroLow(write_zero_low_ns));
    }
    if slot_ns < SLOT_NS {
        return Err(TimingError::Slot(slot_ns));
    }
    let recovery_ns = slot_ns.saturating_sub(write_zero_low_ns);
    if recovery_ns < RECOVERY_NS {
        return Err(TimingError::Recovery(recovery_ns));
    }
    if !is_within(reset_low_ns, RESET_LOW_NS) {
        return Err(TimingError::ResetLow(reset_low_ns));
    }
    let high_ns = reset_high_ns.saturating_sub(rise_check_ns);
    if high_ns < RESET_HIGH_NS {
        return Err(TimingError::ResetHigh(high_ns));
    }
    Ok(())
}

/// The least time to rise that a timing set accepts.
const fn least_rise_ns(timing: &Timing) -> u32 {
    smaller(LEAST_RISE_NS, timing.sample_ns - timing.start_low_ns)
}

/// From the falling edge of a read slot to the release, and from there to the sample. None: there is no legal way.
const fn read_slot(timing: &Timing, costs: &Overhead) -> Option<(Span, Span)> {
    let Overhead { pin_write_ns, delay_ns, .. } = *costs;
    let (least_ns, most_ns) = START_LOW_NS;
    // Shorter than the set says is better than longer: it leaves the line more time to rise.
    let is_alone = pin_write_ns >= least_ns;
    let shortest = if is_alone { Span::without(pin_write_ns) } else { Span::with(delay_ns, least_ns, pin_write_ns) };
    let mut low = if is_alone && pin_write_ns + delay_ns >= timing.start_low_ns {
        shortest
    } else {
        Span::with(delay_ns, timing.start_low_ns, pin_write_ns)
    };
    loop {
        if low.passed_ns <= most_ns
            && let Some(sample) = sample_after(timing, costs, low.passed_ns)
        {
            return Some((low, sample));
        }
        if low.passed_ns == shortest.passed_ns {
            return None;
        }
        low = shortest;
    }
}

/// From the release of a read slot that was low for `low_ns` to the sample.
const fn sample_after(timing: &Timing, costs: &Overhead, low_ns: u32) -> Option<Span> {
    let Overhead { pin_read_ns, delay_ns, .. } = *costs;
    let least_rise_ns = least_rise_ns(timing);
    let wanted_ns = larger(timing.sample_ns.saturating_sub(low_ns), least_rise_ns);
    let waited = Span::with(delay_ns, wanted_ns, pin_read_ns);
    let waited_ns = low_ns + waited.passed_ns;
    if waited_ns <= larger(timing.sample_ns, LATE_SAMPLE_NS) {
        return Some(waited);
    }
    if pin_read_ns >= least_rise_ns && low_ns + pin_read_ns < READ_VALID_NS {
        return Some(Span::without(pin_read_ns));
    }
    if waited_ns < READ_VALID_NS { Some(waited) } else { None }
}
