//! The clock that times the line: the system timer, made longer than its 24 bits.

use core::cell::Cell;

use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use embedded_hal::delay::DelayNs;
use slotwise_bridge::watch::Clock;

use crate::board::CORE_HZ;

/// All that the counter counts: 24 bits, a third of a second at [`CORE_HZ`].
const COUNTER: u32 = 0x00FF_FFFF;
/// Length of a tick.
const TICK_NS: u32 = 1_000_000_000 / CORE_HZ;

/// The system timer. Must be read more often than its counter goes round, which the main loop and all waits do; a turn that is
/// missed makes a wait longer, never shorter.
pub(crate) struct TickClock {
    /// The counter when it was last read.
    seen: Cell<u32>,
    ticks: Cell<u32>,
}

impl TickClock {
    /// Starts the timer.
    pub(crate) fn start(timer: &mut SYST) -> Self {
        timer.set_clock_source(SystClkSource::Core);
        timer.set_reload(COUNTER);
        timer.clear_current();
        timer.enable_counter();
        Self { seen: Cell::new(0), ticks: Cell::new(0) }
    }

    /// Ticks since the start, round and round.
    #[inline]
    pub(crate) fn now(&self) -> u32 {
        // It counts down.
        let seen = SYST::get_current();
        let passed = self.seen.replace(seen).wrapping_sub(seen) & COUNTER;
        let ticks = self.ticks.get().wrapping_add(passed);
        self.ticks.set(ticks);
        ticks
    }
}

impl Clock for TickClock {
    fn hz(&self) -> u32 {
        CORE_HZ
    }

    fn ticks(&self) -> u32 {
        self.now()
    }
}

/// Waits by the clock.
#[derive(Clone, Copy)]
pub(crate) struct TickDelay<'a>(pub(crate) &'a TickClock);

impl DelayNs for TickDelay<'_> {
    fn delay_ns(&mut self, ns: u32) {
        let since = self.0.now();
        let ticks = ns.div_ceil(TICK_NS);
        // One tick may be nearly over when it is first seen.
        while self.0.now().wrapping_sub(since) <= ticks {}
    }
}
