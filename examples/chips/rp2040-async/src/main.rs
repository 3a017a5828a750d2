//! Several sensors that convert together while another task runs, on an RP2040 with an async executor.
//!
//! ```text
//!  3.3 V ──┬───────────────── VDD of the sensors
//!       [4.7k]
//!  GPIO2 ──┴───── line ────── DQ of the sensors
//!  GPIO0 ── TX, 115200 baud, to RX of the board that reads
//!  GPIO25 ── LED, which blinks while the sensors convert
//! ```
#![no_std]
#![no_main]

use embassy_executor::Spawner;
use embassy_rp::gpio::{Level, Output, OutputOpenDrain};
use embassy_rp::uart::{Blocking, Config, UartTx};
use embassy_time::{Delay, Duration, Instant, Timer};
use panic_halt as _;
use slotwise::Error;
use slotwise::bus::{Bus, Roster, SearchScope};
use slotwise::line::{CriticalSection, Line, PinLine, Timing};
use slotwise::thermometer::{CONVERSION_MAX_US, Round, Thermometer};
use slotwise_report_line::{Lines, SENSORS};

/// More than the 1/32 beyond the longest conversion that the driver asks for.
const WAIT: Duration = Duration::from_micros((CONVERSION_MAX_US + CONVERSION_MAX_US / 16) as u64);

#[embassy_executor::main]
async fn main(spawner: Spawner) {
    let chip = embassy_rp::init(Default::default());
    spawner.spawn(blink(Output::new(chip.PIN_25, Level::Low)).expect("one task of this kind"));

    let mut uart = UartTx::new_blocking(chip.UART0, chip.PIN_0, Config::default());
    let mut lines = Lines::new("rp2040-async");
    let data = OutputOpenDrain::new(chip.PIN_2, Level::High);
    // The mask holds back the executor's timer for 61 us at most; between slots every task may have its turn.
    let line = PinLine::new(data, Delay, Timing::SHORT_LINE).expect("this timing set is within the limits");
    let mut line = line.with_mask(CriticalSection);
    // The low 32 bits of the microseconds: the counter may go round.
    if let Err(error) = line.calibrate(1_000_000, || Instant::now().as_micros() as u32) {
        send(&mut uart, &lines.trouble(error));
    }
    let mut bus = Bus::new(line);
    loop {
        if let Err(error) = measure(&mut bus, &mut lines, &mut uart).await {
            send(&mut uart, &lines.trouble(error));
        }
        Timer::after_secs(5).await;
    }
}

/// Has all sensors convert together, and waits without holding up other tasks.
async fn measure<L: Line>(
    bus: &mut Bus<L>,
    lines: &mut Lines<'_>,
    uart: &mut UartTx<'_, Blocking>,
) -> Result<(), Error<L::Error>> {
    let mut roster = Roster::<SENSORS>::new();
    bus.find(&mut roster, SearchScope::All)?;
    let round = Round::begin(bus);
    let mut started = heapless::Vec::<_, SENSORS>::new();
    for &rom in roster.iter() {
        // Each is started by slots that block, 9 ms in all; then the others get their turn.
        match round.start(bus, rom) {
            Ok(sensor) => started.extend([sensor]),
            Err(error) => send(uart, &lines.failure(rom, error)),
        }
        embassy_futures::yield_now().await;
    }
    let since = Instant::now();
    let over = loop {
        Timer::at(since + WAIT).await;
        match round.poll(bus, since.elapsed().as_micros() as u32, CONVERSION_MAX_US) {
            Err(nb::Error::WouldBlock) => {}
            Ok(over) => break over,
            Err(nb::Error::Other(error)) => return Err(error.into()),
        }
    };
    for sensor in started {
        let rom = sensor.rom();
        let Ok(thermometer) = Thermometer::new(rom) else { continue };
        let line = match thermometer.read(bus, &over.receipt(sensor)) {
            Ok(reading) => lines.reading(rom, &reading),
            Err(error) => lines.failure(rom, error),
        };
        send(uart, &line);
        embassy_futures::yield_now().await;
    }
    Ok(())
}

/// Sends a line; it waits for the UART's queue, at most some milliseconds.
fn send(uart: &mut UartTx<'_, Blocking>, line: &str) {
    // This transmitter has no errors.
    let _ = uart.blocking_write(line.as_bytes());
}

/// What else the program does.
#[embassy_executor::task]
async fn blink(mut led: Output<'static>) {
    loop {
        led.toggle();
        Timer::after_millis(100).await;
    }
}
