//! Reads what the chips of `examples/chips` send up their UART, on a Linux board or any computer.
//!
//! Wiring: TX of the chip to RX of this port (3.3 V levels), ground to ground.
//!
//! Command: `cargo run -p slotwise-examples --bin reader -- /dev/serial0`, or `-` for its input. Readings go to its output; what is
//! torn, damaged or missing, to its errors. It ends when the port is gone.

use std::io::{self, ErrorKind, Read, Write};
use std::process::ExitCode;
use std::time::Duration;

use slotwise_examples::port::TEXT_BAUD;
use slotwise_examples::reader::{Event, Reader};

fn main() -> ExitCode {
    let Some(name) = std::env::args().nth(1) else {
        eprintln!("usage: reader PORT; or - for its input");
        return ExitCode::from(2);
    };
    let input: io::Result<Box<dyn Read>> = if name == "-" {
        Ok(Box::new(io::stdin()))
    } else {
        let port = serialport::new(&name, TEXT_BAUD).timeout(Duration::from_secs(1)).open();
        port.map(|port| Box::new(port) as Box<dyn Read>).map_err(io::Error::from)
    };
    match input.and_then(read_all) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{name}: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Reads to the end. A port that is silent for a while has not ended.
fn read_all(mut input: impl Read) -> io::Result<()> {
    let mut reader = Reader::default();
    let mut written = Ok(());
    let mut show = |event: Event| {
        if matches!(event, Event::Report(_)) {
            written = writeln!(io::stdout(), "{event}");
        } else {
            eprintln!("{event}");
        }
    };
    let mut bytes = [0; 512];
    loop {
        match input.read(&mut bytes) {
            Ok(0) => break,
            Ok(count) => reader.take(bytes.get(..count).unwrap_or_default(), &mut show),
            Err(error) if matches!(error.kind(), ErrorKind::Interrupted | ErrorKind::TimedOut) => {}
            Err(error) => return Err(error),
        }
    }
    reader.finish(show);
    // A pipe that is closed at its far end is no failure of the readings.
    written.or_else(|error| if error.kind() == ErrorKind::BrokenPipe { Ok(()) } else { Err(error) })
}
