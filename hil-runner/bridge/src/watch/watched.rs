//! The pin and the delay that the driver sees, and what is behind both.

use core::cell::{Cell, RefCell};
use core::ops::Deref;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use slotwise::line::{InterruptMask, PinLine, StrongPullUp, Timing};

use super::clock::{Clock, LineSample};
use super::meter::Meter;
use super::pulses::{Pulses, ResetSeen};
use crate::message::{Level, LineReport, MasterFault, Spread, TimingSet};
use crate::timing_choice::TimingChoice;

/// The line low for longer than this is a reset pulse; a slot is over by then (DS18B20 datasheet (7/19), AC table: tLOW0 up to
/// 120 us, tRSTL from 480 us). Chosen: twice the one, half the other.
const RESET_FROM_NS: u32 = 240_000;

/// A wait shorter than this is part of a slot.
const SHORT_NS: u32 = 200_000;
/// A wait of fewer ticks is over before a core at that clock has sampled the line more than once or twice; the driver's own sample
/// at its end is enough.
const WATCHED_FROM_TICKS: u32 = 128;
/// Half a turn of the counter: the long time is brought up to date at least as often, or it would lose whole turns.
const HALF_TURN: u32 = 1 << 31;

/// What the pin did last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Doing {
    /// Nothing to watch.
    Idle,
    /// Holding the line low.
    Low,
    /// Released after a reset pulse.
    AfterReset,
}

/// A pin and a clock. Lends itself to the driver as a [pin](WatchedPin) and a [delay](WatchedDelay), and is a [`Meter`].
#[derive(Debug)]
pub struct Watch<P, C> {
    pin: RefCell<P>,
    clock: C,
    /// Ticks per nanosecond, times 2^32: a multiplication, where a division would take too long on small cores.
    ticks_per_ns: u32,
    reset_from: u32,
    doing: Cell<Doing>,
    /// When the line was last pulled low.
    low_since: Cell<u32>,
    /// The line since the last reset pulse, until it is added to the rest.
    pulses: Cell<Option<Pulses>>,
    /// Whether there is such a line. Read where there is no time to read the pulses themselves.
    is_open: Cell<bool>,
    /// When the last reset pulse ended.
    released_at: Cell<u32>,
    /// The last sample after it: when, and what it showed.
    sampled_at: Cell<u32>,
    was_high: Cell<bool>,
    now: Cell<u64>,
    began: Cell<u64>,
    resets: Cell<u32>,
    slots: Cell<u32>,
    most: Cell<Spreads>,
}

/// In ticks.
#[derive(Clone, Copy, Debug, Default)]
struct Spreads {
    rise: Option<(u32, u32)>,
    presence_delay: Option<(u32, u32)>,
    presence_width: Option<(u32, u32)>,
    grain: u32,
}

fn widen(spread: &mut Option<(u32, u32)>, ticks: Option<u32>) {
    if let Some(ticks) = ticks {
        let (least, most) = spread.unwrap_or((ticks, ticks));
        *spread = Some((least.min(ticks), most.max(ticks)));
    }
}

impl<P, C: Clock> Watch<P, C> {
    /// A watch over `pin`, by `clock`.
    pub fn new(pin: P, clock: C) -> Self {
        // At most 2^32 for a thousand million ticks per second.
        let ticks_per_ns = ((u64::from(clock.hz()) << 32) / 1_000_000_000).min(u64::from(u32::MAX)) as u32;
        let now = u64::from(clock.ticks());
        let reset_from = scale(RESET_FROM_NS, ticks_per_ns);
        Self {
            pin: RefCell::new(pin),
            clock,
            ticks_per_ns,
            reset_from,
            doing: Cell::new(Doing::Idle),
            low_since: Cell::new(0),
            pulses: Cell::new(None),
            is_open: Cell::new(false),
            released_at: Cell::new(0),
            sampled_at: Cell::new(0),
            was_high: Cell::new(false),
            now: Cell::new(now),
            began: Cell::new(now),
            resets: Cell::new(0),
            slots: Cell::new(0),
            most: Cell::new(Spreads::default()),
        }
    }

    /// The clock.
    pub const fn clock(&self) -> &C {
        &self.clock
    }

    /// The pin, for the driver.
    pub const fn pin(&self) -> WatchedPin<&Self> {
        WatchedPin(self)
    }

    /// The delay, for the driver.
    pub const fn delay(&self) -> WatchedDelay<&Self> {
        WatchedDelay(self)
    }

    /// The counter, and the long time kept up to date by it.
    fn tick(&self) -> u32 {
        let ticks = self.clock.ticks();
        let now = self.now.get();
        // The low half of the long time is the counter as it was.
        let passed = ticks.wrapping_sub(now as u32);
        self.now.set(now.wrapping_add(u64::from(passed)));
        ticks
    }

    fn close_reset(&self, ResetSeen { rise, presence_delay, presence_width, grain }: ResetSeen) {
        let mut most = self.most.get();
        widen(&mut most.rise, rise);
        widen(&mut most.presence_delay, presence_delay);
        widen(&mut most.presence_width, presence_width);
        most.grain = most.grain.max(grain);
        self.most.set(most);
    }

    /// Between the edges of a slot every cycle counts: there is nothing here that can wait, and what is called in a slot is inlined
    /// always, because a slow core has no time for the calls, and the times must not change with every other change.
    #[inline(always)]
    fn pulled_low(&self) {
        self.low_since.set(self.clock.ticks());
        self.doing.set(Doing::Low);
        // A slot, until it is longer than one. Counted here, so that setting the pin costs the same either way.
        self.slots.set(self.slots.get().wrapping_add(1));
    }

    #[inline(always)]
    fn released(&self) {
        let at = self.clock.ticks();
        let low = at.wrapping_sub(self.low_since.get());
        // No shorter way for a line that was not low: by that the driver measures what this call costs in a slot.
        if self.doing.replace(Doing::Idle) == Doing::Low && low >= self.reset_from {
            self.released_reset(at);
        }
    }

    /// The line must have risen a few microseconds from here, which is when it is sampled next: what can wait, waits.
    #[inline(never)]
    fn released_reset(&self, at: u32) {
        if self.is_open.get() {
            // The wait within the pulse has closed it, if it went through the delay.
            self.close_last_reset();
        }
        self.resets.set(self.resets.get().wrapping_add(1));
        self.slots.set(self.slots.get().wrapping_sub(1));
        self.released_at.set(at);
        self.sampled_at.set(at);
        self.was_high.set(false);
        self.doing.set(Doing::AfterReset);
    }

    /// The driver itself has sampled the line after a reset pulse. On a slow core these are the only samples.
    #[inline(never)]
    fn sampled(&self, high: bool) {
        self.take_sample(self.clock.own_sample(high));
    }

    /// Most samples show the level of the one before, and must be cheap.
    #[inline]
    fn take_sample(&self, LineSample { at, grain, high }: LineSample) {
        let before = self.sampled_at.replace(at);
        if high != self.was_high.get() {
            // The driver's own calls between two samples count as well.
            let grain = if grain == 0 { 0 } else { grain.max(at.wrapping_sub(before)) };
            self.take_change(LineSample { at, grain, high });
        }
    }

    #[inline(never)]
    fn take_change(&self, seen: LineSample) {
        self.was_high.set(seen.high);
        let mut pulses = self.pulses.get().unwrap_or(Pulses::released(self.released_at.get()));
        pulses.change(seen);
        self.pulses.set(Some(pulses));
        self.is_open.set(true);
    }

    /// Adds what the last reset pulse showed to the rest, where there is time for it.
    fn close_last_reset(&self) {
        self.is_open.set(false);
        if let Some(pulses) = self.pulses.take() {
            self.close_reset(pulses.seen());
        }
    }

    fn ns(&self, ticks: u32) -> u32 {
        let ns = u64::from(ticks) * 1_000_000_000 / u64::from(self.clock.hz().max(1));
        u32::try_from(ns).unwrap_or(u32::MAX)
    }

    // Two divisions of 64 bits.
    #[inline(never)]
    fn us(&self, ticks: u64) -> u64 {
        let hz = u64::from(self.clock.hz().max(1));
        // In two parts, so that no product overflows before the microseconds themselves would, in half a million years.
        ticks / hz * 1_000_000 + ticks % hz * 1_000_000 / hz
    }

    fn spread(&self, ticks: Option<(u32, u32)>) -> Option<Spread> {
        ticks.map(|(least, most)| Spread { least_ns: self.ns(least), most_ns: self.ns(most) })
    }
}

/// `ns` times a factor of which 2^32 is 1, rounded up.
fn scale(ns: u32, factor: u32) -> u32 {
    // The product of two 32-bit numbers; its upper half is at most 2^32 - 2, so adding 1 overflows in no case.
    let product = u64::from(ns) * u64::from(factor);
    (product >> 32) as u32 + 1
}

impl<P: InputPin, C: Clock> Meter for Watch<P, C> {
    // Some twenty callers would each get a copy.
    #[inline(never)]
    fn now_us(&self) -> u64 {
        self.tick();
        self.us(self.now.get())
    }

    fn begin(&self) {
        self.tick();
        self.began.set(self.now.get());
        self.resets.set(0);
        self.slots.set(0);
        self.doing.set(Doing::Idle);
        self.pulses.set(None);
        self.most.set(Spreads::default());
    }

    fn finish(&self) -> LineReport {
        self.doing.set(Doing::Idle);
        self.close_last_reset();
        self.tick();
        let (now, began, most) = (self.now.get(), self.began.get(), self.most.get());
        let idle = self.pin.try_borrow_mut().ok().and_then(|mut pin| pin.is_high().ok());
        LineReport {
            at_us: self.us(began),
            spent_us: self.us(now.wrapping_sub(began)),
            resets: self.resets.get(),
            slots: self.slots.get(),
            idle: idle.map(|high| if high { Level::High } else { Level::Low }),
            rise: self.spread(most.rise),
            presence_delay: self.spread(most.presence_delay),
            presence_width: self.spread(most.presence_width),
            grain_ns: self.ns(most.grain),
        }
    }
}

/// The pin, as the driver sees it. `W` points to a [`Watch`].
#[derive(Debug)]
pub struct WatchedPin<W>(pub W);

impl<W> ErrorType for WatchedPin<W> {
    type Error = MasterFault;
}

impl<W, P: OutputPin, C: Clock> OutputPin for WatchedPin<W>
where
    W: Deref<Target = Watch<P, C>>,
{
    #[inline(always)]
    fn set_low(&mut self) -> Result<(), MasterFault> {
        self.0.pin.try_borrow_mut().map_err(|_| MasterFault)?.set_low().map_err(|_| MasterFault)?;
        self.0.pulled_low();
        Ok(())
    }

    #[inline(always)]
    fn set_high(&mut self) -> Result<(), MasterFault> {
        self.0.pin.try_borrow_mut().map_err(|_| MasterFault)?.set_high().map_err(|_| MasterFault)?;
        self.0.released();
        Ok(())
    }
}

impl<W, P: InputPin, C: Clock> InputPin for WatchedPin<W>
where
    W: Deref<Target = Watch<P, C>>,
{
    #[inline(always)]
    fn is_high(&mut self) -> Result<bool, MasterFault> {
        let high = self.0.pin.try_borrow_mut().map_err(|_| MasterFault)?.is_high().map_err(|_| MasterFault)?;
        if self.0.doing.get() == Doing::AfterReset {
            self.0.sampled(high);
        }
        Ok(high)
    }

    fn is_low(&mut self) -> Result<bool, MasterFault> {
        self.is_high().map(|high| !high)
    }
}

/// The delay, as the driver sees it: samples the line while it waits after a reset pulse. `W` points to a [`Watch`].
#[derive(Debug)]
pub struct WatchedDelay<W>(pub W);

impl<W, P: InputPin, C: Clock> DelayNs for WatchedDelay<W>
where
    W: Deref<Target = Watch<P, C>>,
{
    #[inline(always)]
    fn delay_ns(&mut self, ns: u32) {
        let watch = &*self.0;
        let since = watch.clock.ticks();
        let ticks = scale(ns, watch.ticks_per_ns);
        if ns < SHORT_NS && (watch.doing.get() != Doing::AfterReset || ticks < WATCHED_FROM_TICKS) {
            watch.clock.wait::<P>(since, ticks, None, |_| {});
        } else {
            watch.wait_at_leisure(since, ticks);
        }
    }
}

impl<P: InputPin, C: Clock> Watch<P, C> {
    /// A wait with time for more than waiting: within a reset pulse, after one, or between requests to the sensors.
    #[inline(never)]
    fn wait_at_leisure(&self, mut since: u32, mut ticks: u32) {
        if self.doing.get() == Doing::AfterReset
            && let Ok(mut pin) = self.pin.try_borrow_mut()
        {
            self.clock.wait(since, ticks, Some(&mut *pin), |seen: LineSample| self.take_sample(seen));
            return;
        }
        self.close_last_reset();
        while ticks > HALF_TURN {
            self.clock.wait::<P>(since, HALF_TURN, None, |_| {});
            self.tick();
            since = since.wrapping_add(HALF_TURN);
            ticks -= HALF_TURN;
        }
        self.clock.wait::<P>(since, ticks, None, |_| {});
        self.tick();
    }
}

impl<P, D, M, S> TimingChoice for PinLine<P, D, M, S>
where
    P: InputPin + OutputPin,
    D: DelayNs,
    M: InterruptMask,
    S: StrongPullUp,
{
    fn choose_timing(&mut self, set: TimingSet) {
        let chosen = self.set_timing(match set {
            TimingSet::ShortLine => Timing::SHORT_LINE,
            TimingSet::LongLine => Timing::LONG_LINE,
        });
        // Both sets are kept, or refused, with the same costs of calls.
        debug_assert!(chosen.is_ok(), "the line was set up with the other set");
    }

    fn wire_strong_pull_up(&mut self, wired: bool) {
        self.set_strong_pull_up_wired(wired);
    }
}
