//! Sensors on parasite power, read by an STM32F103: blocking, with interrupts masked inside each slot and a strong pull-up.
//!
//! ```text
//!  3.3 V ──[100 ohm]──┬────────────┐
//!                  [4.7k]     [P-FET, gate to PB7 and by 10k to 3.3 V]
//!   PB6 ──────────────┴────────────┴──── line ── DQ of the sensors, their VDD to GND
//!   PA9 ── TX, 115200 baud, to RX of the board that reads
//! ```
//! The resistor in the supply limits the current if the line is shorted while the strong pull-up is closed.
#![no_std]
#![no_main]

use cortex_m::peripheral::DWT;
use cortex_m_rt::entry;
use panic_halt as _;
use slotwise::bus::{Bus, Roster, SearchScope};
use slotwise::line::{CriticalSection, Line, PinLine, PullUpSwitch, SwitchLevel, Timing};
use slotwise::thermometer::{CONVERSION_MAX_US, Thermometer, Wait};
use slotwise_report_line::Lines;
use stm32f1xx_hal::gpio::PinState;
use stm32f1xx_hal::pac;
use stm32f1xx_hal::prelude::*;
use stm32f1xx_hal::rcc;
use stm32f1xx_hal::serial::Config;

/// The crystal is 8 MHz on most boards of this chip.
const CORE_HZ: u32 = 72_000_000;

#[entry]
fn main() -> ! {
    let mut core = cortex_m::Peripherals::take().expect("taken once");
    let chip = pac::Peripherals::take().expect("taken once");
    let mut flash = chip.FLASH.constrain();
    let mut rcc = chip.RCC.freeze(rcc::Config::hse(8.MHz()).sysclk(CORE_HZ.Hz()), &mut flash.acr);
    let mut delay = core.SYST.delay(&rcc.clocks);
    core.DCB.enable_trace();
    core.DWT.enable_cycle_counter();

    let mut a = chip.GPIOA.split(&mut rcc);
    let tx = a.pa9.into_alternate_push_pull(&mut a.crh);
    let mut tx = chip.USART1.tx(tx, Config::default().baudrate(115_200.bps()), &mut rcc);

    let mut b = chip.GPIOB.split(&mut rcc);
    // High before it is an output: neither pin must pull for a moment.
    let data = b.pb6.into_open_drain_output_with_state(&mut b.crl, PinState::High);
    let gate = b.pb7.into_push_pull_output_with_state(&mut b.crl, PinState::High);
    let pull_up = PullUpSwitch::new(gate, SwitchLevel::Low).expect("this pin cannot fail");

    let mut lines = Lines::new("stm32f103");
    let mut send = |line: slotwise_report_line::ReportLine| {
        for byte in line.bytes() {
            // The error type of this half has no other case than "not yet".
            let _ = nb::block!(tx.write_u8(byte));
        }
    };

    // An interrupt in the middle of a slot would damage its bit; the mask lasts at most 61 us at a time.
    let line = PinLine::new(data, &mut delay, Timing::SHORT_LINE).expect("this timing set is within the limits");
    let mut line = line.with_mask(CriticalSection).with_strong_pull_up(pull_up).expect("this pin cannot fail");
    // What calls cost at this clock is measured and taken off each wait.
    if let Err(error) = line.calibrate(CORE_HZ, DWT::cycle_count) {
        send(lines.trouble(error));
    }
    let mut bus = Bus::new(line);
    loop {
        let mut roster = Roster::<16>::new();
        if let Err(error) = bus.find(&mut roster, SearchScope::All) {
            send(lines.trouble(error));
        }
        // One after the other: each draws up to 1.5 mA while it converts, and on parasite power none can report that it is busy. So a
        // mark in its memory proves that it converted and kept its power.
        for &rom in roster.iter() {
            let Ok(sensor) = Thermometer::new(rom) else { continue };
            send(match sensor.convert_proven(&mut bus, Wait::StrongPullUp, CONVERSION_MAX_US) {
                Ok(reading) => lines.reading(rom, &reading),
                Err(error) => lines.failure(rom, error),
            });
        }
        bus.line().delay_us(5_000_000);
    }
}
