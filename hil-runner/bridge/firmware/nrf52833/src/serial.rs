//! Frames through UART0, for a bridge without a debug probe. The plain UART, not the one with memory access: it takes and gives
//! single bytes, which is all that frames need, and it holds six of them.

use nrf52833_hal::gpio::{Input, Output, Pin, PullUp, PushPull};
use nrf52833_hal::pac::UART0;
use slotwise_bridge::Incoming;
use slotwise_bridge::watch::Clock;
use slotwise_firmware::{Carrier, CycleClock, Dropped, PATIENCE_MS};

/// The port, and the clock that times its patience.
pub(crate) struct SerialCarrier {
    port: UART0,
    clock: CycleClock,
    sending: Sending,
}

/// Whether a byte is on its way out.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Sending {
    Nothing,
    Byte,
}

/// Opens the port.
pub(crate) fn start(
    port: UART0,
    sends: Pin<Output<PushPull>>,
    receives: Pin<Input<PullUp>>,
    clock: CycleClock,
) -> SerialCarrier {
    port.psel.txd.write(|w| {
        let w = w.connect().connected();
        #[expect(unsafe_code, reason = "a number below 32")]
        // SAFETY: the HAL gives the number of a pin that exists.
        unsafe {
            w.pin().bits(sends.pin())
        }
    });
    port.psel.rxd.write(|w| {
        let w = w.connect().connected();
        #[expect(unsafe_code, reason = "a number below 32")]
        // SAFETY: as above.
        unsafe {
            w.pin().bits(receives.pin())
        }
    });
    port.baudrate.write(|w| w.baudrate().baud115200());
    port.enable.write(|w| w.enable().enabled());
    port.tasks_starttx.write(|w| w.tasks_starttx().trigger());
    port.tasks_startrx.write(|w| w.tasks_startrx().trigger());
    SerialCarrier { port, clock, sending: Sending::Nothing }
}

impl Incoming for SerialCarrier {
    fn receive(&mut self) -> Option<u8> {
        // A byte that was lost or damaged makes its frame damaged, which the endpoint says.
        if self.port.events_rxdrdy.read().events_rxdrdy().is_not_generated() {
            return None;
        }
        // Before the byte is taken: taking it may bring the next, and its event.
        self.port.events_rxdrdy.reset();
        Some(self.port.rxd.read().rxd().bits())
    }
}

impl Carrier for SerialCarrier {
    fn send(&mut self, frame: &[u8]) -> Result<(), Dropped> {
        let patience = (self.clock.hz() / 1_000).saturating_mul(PATIENCE_MS);
        for byte in frame {
            let since = self.clock.ticks();
            while self.sending == Sending::Byte && self.port.events_txdrdy.read().events_txdrdy().is_not_generated() {
                if self.clock.ticks().wrapping_sub(since) >= patience {
                    return Err(Dropped);
                }
            }
            self.port.events_txdrdy.reset();
            #[expect(unsafe_code, reason = "any byte may be sent")]
            // SAFETY: the field has eight bits.
            self.port.txd.write(|w| unsafe { w.txd().bits(*byte) });
            self.sending = Sending::Byte;
        }
        Ok(())
    }
}
