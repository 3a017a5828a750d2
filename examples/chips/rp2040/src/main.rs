//! Sensors on their own supply, read by an RP2040: blocking, all converting at the same time.
//!
//! ```text
//!  3.3 V ──┬───────────────── VDD of the sensors
//!       [4.7k]
//!  GPIO2 ──┴───── line ────── DQ of the sensors
//!  GPIO0 ── TX, 115200 baud, to RX of the board that reads
//! ```
#![no_std]
#![no_main]

use cortex_m::delay::Delay;
use embedded_hal::delay::DelayNs;
use panic_halt as _;
use rp2040_hal::clocks::{Clock, init_clocks_and_plls};
use rp2040_hal::fugit::RateExtU32;
use rp2040_hal::gpio::{FunctionNull, FunctionUart, InOutPin, Pin, Pins, PullDown, PullNone, bank0};
use rp2040_hal::uart::{DataBits, StopBits, UartConfig, UartPeripheral};
use rp2040_hal::{Sio, Timer, Watchdog, entry, pac};
use slotwise::bus::Bus;
use slotwise::line::{CriticalSection, PinLine, Timing};
use slotwise_report_line::{Lines, ReportLine, measure_together};

/// Second stage of the boot loader, for flash chips of the W25Q080 kind.
#[expect(unsafe_code, reason = "the linker puts it at the start of flash")]
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_W25Q080;

const CRYSTAL_HZ: u32 = 12_000_000;

#[entry]
fn main() -> ! {
    let core = cortex_m::Peripherals::take().expect("taken once");
    let mut chip = pac::Peripherals::take().expect("taken once");
    let mut watchdog = Watchdog::new(chip.WATCHDOG);
    let clocks = init_clocks_and_plls(
        CRYSTAL_HZ,
        chip.XOSC,
        chip.CLOCKS,
        chip.PLL_SYS,
        chip.PLL_USB,
        &mut chip.RESETS,
        &mut watchdog,
    );
    let Ok(clocks) = clocks else { panic!("the crystal does not start") };
    let mut timer = Timer::new(chip.TIMER, &mut chip.RESETS, &clocks);
    // Has less to do around each wait than the timer.
    let core_delay = Delay::new(core.SYST, clocks.system_clock.freq().to_Hz());

    let sio = Sio::new(chip.SIO);
    let pins = Pins::new(chip.IO_BANK0, chip.PADS_BANK0, sio.gpio_bank0, &mut chip.RESETS);
    // The chip has no open drain: the output is low for good, and switched on and off. Until here the pin drives nothing.
    let data: InOutPin<Pin<bank0::Gpio2, FunctionNull, PullNone>> = InOutPin::new(pins.gpio2.into_pull_type());
    let tx: Pin<_, FunctionUart, PullDown> = pins.gpio0.into_function();
    let rx: Pin<_, FunctionUart, PullDown> = pins.gpio1.into_function();
    let to_reader = UartPeripheral::new(chip.UART0, (tx, rx), &mut chip.RESETS)
        .enable(UartConfig::new(115_200.Hz(), DataBits::Eight, None, StopBits::One), clocks.peripheral_clock.freq())
        .expect("115200 baud can be made of this clock");
    let mut lines = Lines::new("rp2040");
    let mut send = |line: ReportLine| to_reader.write_full_blocking(line.as_bytes());

    let line = PinLine::new(data, core_delay, Timing::SHORT_LINE).expect("this timing set is within the limits");
    let mut line = line.with_mask(CriticalSection);
    // The timer counts microseconds: enough for the delay, whose steps are as long.
    if let Err(error) = line.calibrate(1_000_000, || timer.get_counter_low()) {
        send(lines.trouble(error));
    }
    let mut bus = Bus::new(line);
    loop {
        if let Err(error) = measure_together(&mut bus, &mut lines, &mut send) {
            send(lines.trouble(error));
        }
        timer.delay_ms(5_000);
    }
}
