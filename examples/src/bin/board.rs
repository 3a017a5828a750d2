//! A Linux board as bus master, by its UART: finds all sensors, has them convert together, and writes a line for each.
//!
//! ```text
//!  3.3 V ──┬───────────── VDD of the sensors
//!       [4.7k]
//!  RX ─────┼───────────── DQ of the sensors
//!  TX ──|◄─┘              Schottky diode, its cathode at TX; or an open-drain buffer that pulls low with TX
//!  GND ────────────────── GND of the sensors
//! ```
//!
//! A pin of the board would not do: the kernel may stop the program in the middle of a slot. The UART makes its pulses in hardware. No
//! console and no flow control may be on the port.
//!
//! Command: `cargo run -p slotwise-examples --bin board -- /dev/serial0`, and `| cargo run -p slotwise-examples --bin reader -- -` to
//! read the lines, or `> /dev/ttyUSB0` to send them up another port.

use std::io::{self, Write};
use std::process::ExitCode;
use std::time::Duration;

use slotwise::bus::Bus;
use slotwise::line::{SerialLine, SystemDelay};
use slotwise_examples::port;
use slotwise_report_line::{Lines, measure_together};

fn main() -> ExitCode {
    let Some(name) = std::env::args().nth(1) else {
        eprintln!("usage: board PORT");
        return ExitCode::from(2);
    };
    match measure_for_ever(&name) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{name}: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Measures every five seconds, until the output is closed.
fn measure_for_ever(name: &str) -> io::Result<()> {
    let mut bus = Bus::new(SerialLine::new(port::open(name)?, SystemDelay));
    let mut lines = Lines::new("board");
    loop {
        let mut written = Ok(());
        let mut send = |line: &str| {
            let outcome = io::stdout().write_all(line.as_bytes());
            if written.is_ok() {
                written = outcome;
            }
        };
        if let Err(error) = measure_together(&mut bus, &mut lines, |line| send(&line)) {
            send(&lines.trouble(error));
        }
        match written {
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => return Ok(()),
            written => written?,
        }
        std::thread::sleep(Duration::from_secs(5));
    }
}
