//! Two lines at once on an STM32F103: one on a pin, one on a UART. The sensors of both convert at the same time.
//!
//! ```text
//!  3.3 V ──┬──────────┬────────── VDD of the sensors
//!       [4.7k]     [4.7k]
//!  PB6 ────┴── line 1 │
//!  PA2, PA3 ──────────┴── line 2      USART2: its transmitter is open drain, its receiver on the same wire
//!  PA9 ── TX, 115200 baud, to RX of the board that reads
//! ```
//! The pulses of the second line are made by the UART's hardware: no interrupt has to be masked for it.
#![no_std]
#![no_main]

use cortex_m::peripheral::DWT;
use cortex_m_rt::entry;
use panic_halt as _;
use slotwise::Error;
use slotwise::bus::{Bus, Roster, SearchScope};
use slotwise::line::{CriticalSection, Line, NoSuchRate, PinLine, SerialLine, Timing, UartHalves, UartPort};
use slotwise::thermometer::{CONVERSION_MAX_US, Round, Started, Thermometer};
use slotwise_report_line::{Lines, ReportLine};
use stm32f1xx_hal::gpio::PinState;
use stm32f1xx_hal::pac;
use stm32f1xx_hal::prelude::*;
use stm32f1xx_hal::rcc;
use stm32f1xx_hal::serial::{Config, reconfigure};

/// The crystal is 8 MHz on most boards of this chip.
const CORE_HZ: u32 = 72_000_000;
/// The longest conversion, and 1/16 more: the driver asks for 1/32, and the timer may be slow by as much again.
const WAIT_US: u32 = CONVERSION_MAX_US + CONVERSION_MAX_US / 16;
/// Sensors per line.
const SENSORS: usize = 16;

#[entry]
fn main() -> ! {
    let mut core = cortex_m::Peripherals::take().expect("taken once");
    let chip = pac::Peripherals::take().expect("taken once");
    let mut flash = chip.FLASH.constrain();
    let mut rcc = chip.RCC.freeze(rcc::Config::hse(8.MHz()).sysclk(CORE_HZ.Hz()).pclk1(36.MHz()), &mut flash.acr);
    core.DCB.enable_trace();
    core.DWT.enable_cycle_counter();

    let mut a = chip.GPIOA.split(&mut rcc);
    let tx = a.pa9.into_alternate_push_pull(&mut a.crh);
    let mut tx = chip.USART1.tx(tx, Config::default().baudrate(115_200.bps()), &mut rcc);
    let mut lines = Lines::new("two-lines");
    let mut send = |line: ReportLine| {
        for byte in line.bytes() {
            // The error type of this half has no other case than "not yet".
            let _ = nb::block!(tx.write_u8(byte));
        }
    };

    let line_tx = a.pa2.into_alternate_open_drain(&mut a.crl);
    let line_rx = a.pa3.into_floating_input(&mut a.crl);
    let uart = chip.USART2.serial((line_tx, line_rx), Config::default().baudrate(9_600.bps()), &mut rcc);
    let (line_tx, line_rx) = uart.split();
    // The wait for an echo, and the waits of the line.
    let (echo_delay, line_delay) = (chip.TIM2.delay_us(&mut rcc), chip.TIM3.delay_us(&mut rcc));
    let clocks = rcc.clocks;
    let port =
        UartPort::new(UartHalves::new(line_tx, line_rx), echo_delay, move |uart: &mut UartHalves<_, _>, baud| {
            nb::block!(reconfigure(&mut uart.tx, &mut uart.rx, Config::default().baudrate(baud.bps()), &clocks))
                .map_err(|_| NoSuchRate)
        });
    let mut on_uart = Bus::new(SerialLine::new(port, line_delay));

    let mut b = chip.GPIOB.split(&mut rcc);
    let data = b.pb6.into_open_drain_output_with_state(&mut b.crl, PinState::High);
    let pin_delay = core.SYST.delay(&rcc.clocks);
    let line = PinLine::new(data, pin_delay, Timing::SHORT_LINE).expect("this timing set is within the limits");
    let mut line = line.with_mask(CriticalSection);
    if let Err(error) = line.calibrate(CORE_HZ, DWT::cycle_count) {
        send(lines.trouble(error));
    }
    let mut on_pin = Bus::new(line);

    loop {
        // Receipts are bound to their bus by no more than a count: those of two buses are kept apart.
        let first = begin(&mut on_pin).map_err(|error| send(lines.trouble(error)));
        let second = begin(&mut on_uart).map_err(|error| send(lines.trouble(error)));
        // Waited for once: the first has then had longer than it needs.
        on_uart.line().delay_us(WAIT_US);
        if let Ok(first) = first {
            finish(&mut on_pin, first, &mut lines, &mut send);
        }
        if let Ok(second) = second {
            finish(&mut on_uart, second, &mut lines, &mut send);
        }
        on_uart.line().delay_us(5_000_000);
    }
}

/// A round, and the sensors that were seen to start in it.
type Begun = (Round, heapless::Vec<Started, SENSORS>);

/// Finds the sensors of a line and starts each.
fn begin<L: Line>(bus: &mut Bus<L>) -> Result<Begun, Error<L::Error>> {
    let mut roster = Roster::<SENSORS>::new();
    bus.find(&mut roster, SearchScope::All)?;
    let round = Round::begin(bus);
    let mut started = heapless::Vec::new();
    for &rom in roster.iter() {
        started.extend([round.start(bus, rom)?]);
    }
    Ok((round, started))
}

/// Reads the sensors of a line whose conversions were waited for.
fn finish<L: Line>(bus: &mut Bus<L>, (round, started): Begun, lines: &mut Lines, mut send: impl FnMut(ReportLine)) {
    let over = match round.poll(bus, WAIT_US, CONVERSION_MAX_US) {
        Ok(over) => over,
        Err(error) => return send(lines.trouble(format_args!("{error:?}"))),
    };
    for sensor in started {
        let rom = sensor.rom();
        let Ok(thermometer) = Thermometer::new(rom) else { continue };
        send(match thermometer.read(bus, &over.receipt(sensor)) {
            Ok(reading) => lines.reading(rom, &reading),
            Err(error) => lines.failure(rom, error),
        });
    }
}
