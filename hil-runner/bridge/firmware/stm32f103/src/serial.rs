//! Frames through USART1, for a bridge without a debug probe.

use slotwise_bridge::Incoming;
use slotwise_bridge::watch::Clock;
use slotwise_firmware::{Carrier, CycleClock, Dropped, PATIENCE_MS};
use stm32f1xx_hal::pac::{GPIOA, USART1};
use stm32f1xx_hal::prelude::*;
use stm32f1xx_hal::rcc::Rcc;
use stm32f1xx_hal::serial::{Config, Rx, Tx};

use crate::board::SERIAL_BAUD;

/// The port, and the clock that times its patience.
pub(crate) struct SerialCarrier {
    tx: Tx<USART1>,
    rx: Rx<USART1>,
    clock: CycleClock,
}

/// Opens the port.
pub(crate) fn start(port: USART1, pins: GPIOA, rcc: &mut Rcc, clock: CycleClock) -> SerialCarrier {
    let mut pins = pins.split(rcc);
    let tx = pins.pa9.into_alternate_push_pull(&mut pins.crh);
    let rx = pins.pa10.into_pull_up_input(&mut pins.crh);
    let (tx, rx) = port.serial((tx, rx), Config::default().baudrate(SERIAL_BAUD.bps()), rcc).split();
    SerialCarrier { tx, rx, clock }
}

impl Incoming for SerialCarrier {
    fn receive(&mut self) -> Option<u8> {
        // A byte that was lost or damaged makes its frame damaged, which the endpoint says.
        self.rx.read().ok()
    }
}

impl Carrier for SerialCarrier {
    fn send(&mut self, frame: &[u8]) -> Result<(), Dropped> {
        let patience = (self.clock.hz() / 1_000).saturating_mul(PATIENCE_MS);
        for byte in frame {
            let since = self.clock.ticks();
            while self.tx.write_u8(*byte).is_err() {
                if self.clock.ticks().wrapping_sub(since) >= patience {
                    return Err(Dropped);
                }
            }
        }
        Ok(())
    }
}
