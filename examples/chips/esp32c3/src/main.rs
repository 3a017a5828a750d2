//! Sensors on their own supply, read by an ESP32-C3, a RISC-V chip: blocking, all converting at the same time.
//!
//! ```text
//!  3.3 V ──┬───────────────── VDD of the sensors
//!       [4.7k]
//!  GPIO4 ──┴───── line ────── DQ of the sensors
//!  GPIO6 ── TX, 115200 baud, to RX of the board that reads
//! ```
#![no_std]
#![no_main]

use esp_hal::Config;
use esp_hal::clock::CpuClock;
use esp_hal::delay::Delay;
use esp_hal::gpio::{DriveMode, Flex, Level, OutputConfig};
use esp_hal::main;
use esp_hal::time::Instant;
use esp_hal::uart::{self, UartTx};
use panic_halt as _;
use slotwise::bus::Bus;
use slotwise::line::{CriticalSection, Line, PinLine, Timing};
use slotwise_report_line::{Lines, ReportLine, measure_together};

// What the boot loader of this chip wants to know of a program.
esp_bootloader_esp_idf::esp_app_desc!();

#[main]
fn main() -> ! {
    let chip = esp_hal::init(Config::default().with_cpu_clock(CpuClock::max()));
    let uart = UartTx::new(chip.UART1, uart::Config::default().with_baudrate(115_200));
    let mut uart = uart.expect("115200 baud can be made of this clock").with_tx(chip.GPIO6);
    let mut lines = Lines::new("esp32c3");
    let mut send = |line: ReportLine| {
        let mut rest = line.as_bytes();
        // It takes what its queue has room for. What it cannot send is missing at the reader, by its count.
        while let Ok(sent @ 1..) = uart.write(rest) {
            rest = rest.get(sent..).unwrap_or_default();
            if rest.is_empty() {
                break;
            }
        }
    };

    let mut data = Flex::new(chip.GPIO4);
    // High and open drain before it is an output: it must not pull for a moment.
    data.set_level(Level::High);
    data.apply_output_config(&OutputConfig::default().with_drive_mode(DriveMode::OpenDrain));
    data.set_output_enable(true);
    data.set_input_enable(true);

    // This chip runs from flash through a cache: a miss in the middle of a slot costs microseconds. A frame that it damages
    // is found by its CRC and reported, and the next round reads again.
    let line = PinLine::new(data, Delay::new(), Timing::SHORT_LINE).expect("this timing set is within the limits");
    let mut line = line.with_mask(CriticalSection);
    let since = Instant::now();
    if let Err(error) = line.calibrate(1_000_000, || since.elapsed().as_micros() as u32) {
        send(lines.trouble(error));
    }
    let mut bus = Bus::new(line);
    loop {
        if let Err(error) = measure_together(&mut bus, &mut lines, &mut send) {
            send(lines.trouble(error));
        }
        bus.line().delay_us(5_000_000);
    }
}
