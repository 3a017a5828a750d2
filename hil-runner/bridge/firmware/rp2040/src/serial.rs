//! Frames through UART0, for a bridge without a debug probe.

use rp2040_hal::Clock as _;
use rp2040_hal::clocks::ClocksManager;
use rp2040_hal::fugit::RateExtU32;
use rp2040_hal::gpio::bank0::{Gpio0, Gpio1};
use rp2040_hal::gpio::{FunctionNull, FunctionUart, Pin, PullDown, PullNone, PullUp};
use rp2040_hal::pac::{RESETS, UART0};
use rp2040_hal::uart::{DataBits, Enabled, StopBits, UartConfig, UartPeripheral};
use slotwise_bridge::Incoming;
use slotwise_bridge::watch::Clock;
use slotwise_firmware::{Carrier, Dropped, PATIENCE_MS};

use crate::board::SERIAL_BAUD;
use crate::clock::LongSysTick;

type Sends = Pin<Gpio0, FunctionUart, PullNone>;
type Receives = Pin<Gpio1, FunctionUart, PullUp>;

/// The port, and the clock that times its patience.
pub(crate) struct SerialCarrier {
    port: UartPeripheral<Enabled, UART0, (Sends, Receives)>,
    clock: LongSysTick,
}

/// Opens the port. `None` if the clocks do not make this speed.
pub(crate) fn start(
    port: UART0,
    sends: Pin<Gpio0, FunctionNull, PullDown>,
    receives: Pin<Gpio1, FunctionNull, PullDown>,
    resets: &mut RESETS,
    clocks: &ClocksManager,
    clock: LongSysTick,
) -> Option<SerialCarrier> {
    let config = UartConfig::new(SERIAL_BAUD.Hz(), DataBits::Eight, None, StopBits::One);
    let pins = (sends.reconfigure(), receives.reconfigure());
    let port = UartPeripheral::new(port, pins, resets).enable(config, clocks.peripheral_clock.freq()).ok()?;
    Some(SerialCarrier { port, clock })
}

impl Incoming for SerialCarrier {
    fn receive(&mut self) -> Option<u8> {
        let mut byte = [0];
        // A byte that was lost or damaged makes its frame damaged, which the endpoint says.
        self.port.read_raw(&mut byte).ok().filter(|count| *count == 1).map(|_| byte[0])
    }
}

impl Carrier for SerialCarrier {
    fn send(&mut self, frame: &[u8]) -> Result<(), Dropped> {
        let patience = (self.clock.hz() / 1_000).saturating_mul(PATIENCE_MS);
        for byte in frame {
            let since = self.clock.ticks();
            while self.port.write_raw(&[*byte]).is_err() {
                if self.clock.ticks().wrapping_sub(since) >= patience {
                    return Err(Dropped);
                }
            }
        }
        Ok(())
    }
}
