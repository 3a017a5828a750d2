//! The core clock: the crystal and the PLL, or the oscillator inside if the crystal does not start.

use slotwise_bridge::watch::Clock;
use slotwise_firmware::CycleClock;
use stm32f1xx_hal::flash::FlashExt;
use stm32f1xx_hal::pac;
use stm32f1xx_hal::prelude::*;
use stm32f1xx_hal::rcc::{AdcPre, PPre, RawConfig, Rcc};

use crate::board::{CRYSTAL_CORE_HZ, CRYSTAL_HZ, CRYSTAL_START_CYCLES, INTERNAL_CORE_HZ};

/// The core clock over the crystal.
const PLL_FACTOR: u32 = CRYSTAL_CORE_HZ / CRYSTAL_HZ;
const _: () = assert!(CRYSTAL_HZ * PLL_FACTOR == CRYSTAL_CORE_HZ && PLL_FACTOR >= 2 && PLL_FACTOR <= 16);

/// Where the core clock comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Source {
    /// The crystal, multiplied.
    Crystal,
    /// The oscillator inside.
    Internal,
}

impl Source {
    /// The core clock, in hertz.
    pub(crate) const fn core_hz(self) -> u32 {
        match self {
            Self::Crystal => CRYSTAL_CORE_HZ,
            Self::Internal => INTERNAL_CORE_HZ,
        }
    }
}

/// Starts the clock; `timer` runs at [`INTERNAL_CORE_HZ`] until then.
pub(crate) fn start(rcc: pac::RCC, flash: pac::FLASH, timer: CycleClock) -> (Rcc, Source) {
    let source = try_crystal(&rcc, timer);
    let mut flash = flash.constrain();
    let rcc = rcc.constrain();
    let rcc = match source {
        Source::Crystal => {
            // Written out: what the HAL would work out from frequencies can panic.
            let config = RawConfig {
                hse: Some(CRYSTAL_HZ),
                pllmul: Some(PLL_FACTOR as u8 - 2),
                // At most 36 MHz on this bus, and 14 MHz for the converter, which is not used.
                ppre1: PPre::Div2,
                adcpre: AdcPre::Div6,
                ..RawConfig::default()
            };
            rcc.freeze(config, &mut flash.acr)
        }
        Source::Internal => rcc.freeze(RawConfig::default(), &mut flash.acr),
    };
    (rcc, source)
}

/// The HAL waits for the crystal without a limit, so it is started here first.
fn try_crystal(rcc: &pac::RCC, timer: CycleClock) -> Source {
    rcc.cr().modify(|_, w| w.hseon().set_bit());
    let since = timer.ticks();
    while timer.ticks().wrapping_sub(since) < CRYSTAL_START_CYCLES {
        if rcc.cr().read().hserdy().bit_is_set() {
            return Source::Crystal;
        }
    }
    rcc.cr().modify(|_, w| w.hseon().clear_bit());
    Source::Internal
}
