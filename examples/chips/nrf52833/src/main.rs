//! Sensors on their own supply, read by an nRF52833. Each conversion is a state that the program moves on,
//! so that it can do something else between two polls.
//!
//! ```text
//!  3.3 V ──┬───────────────── VDD of the sensors
//!       [4.7k]
//!  P0.02 ──┴───── line ────── DQ of the sensors
//!  P0.06 ── TX, 115200 baud, to RX of the board that reads; P0.08 is its RX, which nothing needs
//! ```
#![no_std]
#![no_main]

use cortex_m::peripheral::DWT;
use cortex_m_rt::entry;
use nrf52833_hal::gpio::{Level, OpenDrainConfig, p0};
use nrf52833_hal::uarte::{Baudrate, Parity, Pins, Uarte};
use nrf52833_hal::{Clocks, Delay, pac};
use panic_halt as _;
use slotwise::Error;
use slotwise::bus::{Bus, Roster, SearchScope, Target};
use slotwise::line::{CriticalSection, Line, PinLine, Timing};
use slotwise::thermometer::{Conversion, Progress, Thermometer, Wait};
use slotwise_report_line::{Lines, ReportLine};

/// The chip has no other clock.
const CORE_HZ: u32 = 64_000_000;

#[entry]
fn main() -> ! {
    let mut core = cortex_m::Peripherals::take().expect("taken once");
    let chip = pac::Peripherals::take().expect("taken once");
    // From the crystal: the oscillator inside may be off by more than a UART bears (from memory).
    let _clocks = Clocks::new(chip.CLOCK).enable_ext_hfosc();
    core.DCB.enable_trace();
    core.DWT.enable_cycle_counter();

    let pins = p0::Parts::new(chip.P0);
    let uart_pins = Pins {
        txd: pins.p0_06.into_push_pull_output(Level::High).degrade(),
        rxd: pins.p0_08.into_floating_input().degrade(),
        cts: None,
        rts: None,
    };
    let mut uart = Uarte::new(chip.UARTE0, uart_pins, Parity::EXCLUDED, Baudrate::BAUD115200);
    let mut lines = Lines::new("nrf52833");
    let mut send = |line: ReportLine| {
        // The line is in memory, as this peripheral needs it. What it could not send is missing at the reader, by its count.
        let _ = uart.write(line.as_bytes());
    };

    let data = pins.p0_02.into_open_drain_input_output(OpenDrainConfig::Standard0Disconnect1, Level::High);
    let line = PinLine::new(data, Delay::new(core.SYST), Timing::SHORT_LINE);
    let mut line = line.expect("this timing set is within the limits").with_mask(CriticalSection);
    if let Err(error) = line.calibrate(CORE_HZ, DWT::cycle_count) {
        send(lines.trouble(error));
    }
    let mut bus = Bus::new(line);
    loop {
        if let Err(error) = measure(&mut bus, &mut lines, &mut send) {
            send(lines.trouble(error));
        }
        bus.line().delay_us(5_000_000);
    }
}

/// Finds all sensors, and measures and sends one after the other.
fn measure<L: Line>(
    bus: &mut Bus<L>,
    lines: &mut Lines,
    mut send: impl FnMut(ReportLine),
) -> Result<(), Error<L::Error>> {
    let mut roster = Roster::<16>::new();
    bus.find(&mut roster, SearchScope::All)?;
    for &rom in roster.iter() {
        let Ok(sensor) = Thermometer::new(rom) else { continue };
        let max_us = sensor.family().conversion_max_us(Default::default());
        // Polled and timed: it is seen to be busy, and read no sooner than the longest time.
        let mut conversion = Conversion::start(bus, Target::One(rom), Wait::PollAndTime, max_us)?;
        let mut waited_us = 0;
        let converted = loop {
            match conversion.advance(bus, waited_us)? {
                Progress::Done(converted) => break converted,
                Progress::Wait { us } => {
                    // The place for other work, or for a sleep until a timer's interrupt.
                    bus.line().delay_us(us);
                    waited_us = us;
                }
            }
        };
        send(match sensor.read(bus, &converted.receipt) {
            Ok(reading) => lines.reading(rom, &reading),
            Err(error) => lines.failure(rom, error),
        });
    }
    Ok(())
}
