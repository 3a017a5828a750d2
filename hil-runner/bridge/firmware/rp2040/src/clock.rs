//! The clock that times the line: SysTick, which counts 24 bits down at the core clock, made 32 bits long here.

use core::sync::atomic::{AtomicU32, Ordering};

use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use slotwise_bridge::watch::Clock;

/// Highest value of the counter.
const TOP: u32 = 0x00FF_FFFF;

/// The counter as it was read last, and the ticks until then. Shared by all copies of the clock. It has to be read at least once in
/// a turn of the counter, 134 ms at 125 MHz: waiting reads it all the time, and the main loop 32 times a second.
static READ: AtomicU32 = AtomicU32::new(0);
static TICKS: AtomicU32 = AtomicU32::new(0);

/// SysTick, made longer. Not to be read in interrupts.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LongSysTick {
    hz: u32,
}

impl LongSysTick {
    /// Starts the counter of a core that runs at `hz`.
    pub(crate) fn start(syst: &mut SYST, hz: u32) -> Self {
        syst.set_clock_source(SystClkSource::Core);
        syst.set_reload(TOP);
        syst.clear_current();
        syst.enable_counter();
        Self { hz }
    }
}

impl Clock for LongSysTick {
    #[inline]
    fn hz(&self) -> u32 {
        self.hz
    }

    #[inline]
    fn ticks(&self) -> u32 {
        let now = TOP.wrapping_sub(SYST::get_current());
        let passed = now.wrapping_sub(READ.load(Ordering::Relaxed)) & TOP;
        let ticks = TICKS.load(Ordering::Relaxed).wrapping_add(passed);
        READ.store(now, Ordering::Relaxed);
        TICKS.store(ticks, Ordering::Relaxed);
        ticks
    }
}
