//! The cycle counter of Cortex-M3 and M4 cores as the clock that times the line: 32 bits, one tick a cycle.

use slotwise_bridge::watch::Clock;

/// The cycle counter (DWT_CYCCNT). It counts while the core runs; the firmware never sleeps.
#[derive(Clone, Copy, Debug)]
pub struct CycleClock {
    hz: u32,
}

impl CycleClock {
    /// Starts the counter of a core that runs at `hz`.
    pub fn start(dcb: &mut cortex_m::peripheral::DCB, dwt: &mut cortex_m::peripheral::DWT, hz: u32) -> Self {
        dcb.enable_trace();
        dwt.enable_cycle_counter();
        Self { hz }
    }
}

impl Clock for CycleClock {
    #[inline]
    fn hz(&self) -> u32 {
        self.hz
    }

    #[inline]
    fn ticks(&self) -> u32 {
        cortex_m::peripheral::DWT::cycle_count()
    }
}
