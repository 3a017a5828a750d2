//! What the UART of the bus master is joined to: bytes become edges on a virtual line, and the line becomes bytes.
//!
//! Two clocks are kept in step. The emulator runs without counting instructions, so its time is the time on the wall. From one
//! byte to the next the line's time goes on by as much as the time on the wall, and by no less than the bit times of the byte, which
//! may be gone through the socket in less. So the line's time never goes slower than the chip's: a sensor may be done earlier
//! than the chip thinks, never later. An emulator that counts instructions would have a time of its own, which it does not report.

use slotwise::bus::RomCode;
use slotwise_virtual_line::{LineConfig, Part, RomCode as Bytes, SensorConfig, Uart, VirtualLine};
use std::collections::BTreeSet;
use std::fs::File;
use std::io::{Read, Write};
use std::os::unix::net::UnixStream;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::Instant;

/// The sensors of the rig "second opinion".
const SENSORS: [(Part, &str); 3] = [
    (Part::Ds18b20, "28:3D5C81B20E11:B7"),
    (Part::Ds18b20, "28:A80F6643D912:0B"),
    (Part::Ds1822, "22:445566000000:E2"),
];
/// Temperature around all of them: the reference of that rig.
const AMBIENT_MILLICELSIUS: i32 = 12_750;
/// Core clock of the chip, from which the dividers of its UARTs divide.
const CORE_HZ: u64 = 50_000_000;

/// What is on the line.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Wiring {
    /// The sensors of the rig.
    Sensors,
    /// The receiver is joined to nothing.
    NoEcho,
}

/// What was seen of the bus master.
#[derive(Debug)]
pub(crate) struct Seen {
    /// Bytes on the line.
    pub(crate) bytes: u64,
    /// The rates that they had.
    pub(crate) rates: BTreeSet<u32>,
}

/// A thread at the end of the UART.
pub(crate) struct FarEnd {
    bytes: Arc<AtomicU64>,
    thread: JoinHandle<Seen>,
}

impl FarEnd {
    /// Serves `uart` until it is closed. The emulator writes rates to the file `rates`.
    pub(crate) fn start(uart: UnixStream, rates: PathBuf, wiring: Wiring) -> Self {
        let bytes = Arc::new(AtomicU64::new(0));
        let count = Arc::clone(&bytes);
        let thread = std::thread::spawn(move || serve(uart, Rates::new(rates), wiring, &count));
        Self { bytes, thread }
    }

    /// How many bytes were on the line so far.
    pub(crate) fn bytes(&self) -> u64 {
        self.bytes.load(Ordering::Relaxed)
    }

    /// Once the emulator is gone: what was seen.
    pub(crate) fn finish(self) -> Seen {
        self.thread.join().unwrap()
    }
}

fn line_of_rig() -> VirtualLine {
    let config = LineConfig { ambient_millicelsius: AMBIENT_MILLICELSIUS, ..LineConfig::default() };
    let line = VirtualLine::new(config, 1).unwrap();
    for (part, code) in SENSORS {
        let rom = Bytes::from_bytes(*code.parse::<RomCode>().unwrap().bytes());
        line.attach(SensorConfig { rom, ..SensorConfig::new(part, 0) }).unwrap();
    }
    line
}

fn serve(mut stream: UnixStream, mut rates: Rates, wiring: Wiring, count: &AtomicU64) -> Seen {
    let line = line_of_rig();
    let mut uart = Uart::new(&line);
    let mut seen = Seen { bytes: 0, rates: BTreeSet::new() };
    // When bytes last came: on the wall, and on the line.
    let (mut came_at, mut line_ns) = (Instant::now(), line.now_ns());
    let mut bytes = [0; 64];
    stream.set_nonblocking(false).unwrap();
    loop {
        let came = match stream.read(&mut bytes) {
            Ok(0) | Err(_) => return seen,
            Ok(count) => count,
        };
        let now = Instant::now();
        line_ns += u64::try_from((now - came_at).as_nanos()).unwrap();
        line.advance_ns(line_ns.saturating_sub(line.now_ns()));
        (came_at, line_ns) = (now, line.now_ns());
        for byte in &bytes[..came] {
            let baud = rates.latest();
            seen.rates.insert(baud);
            let echo = uart.exchange(*byte, baud).unwrap();
            seen.bytes += 1;
            count.store(seen.bytes, Ordering::Relaxed);
            if wiring == Wiring::Sensors && stream.write_all(&[echo.byte]).is_err() {
                return seen;
            }
        }
    }
}

/// The rate of the bus master, as its registers have it.
///
/// The emulator writes a line for each write to a divider before the chip goes on, so the last line belongs to the byte that
/// comes next. The UART of the frames is set before the first byte of the bus master, and never again.
struct Rates {
    path: PathBuf,
    file: Option<File>,
    text: String,
    latest: Option<u32>,
}

impl Rates {
    fn new(path: PathBuf) -> Self {
        Self { path, file: None, text: String::new(), latest: None }
    }

    fn latest(&mut self) -> u32 {
        if self.file.is_none() {
            self.file = File::open(&self.path).ok();
        }
        if let Some(file) = &mut self.file {
            file.read_to_string(&mut self.text).unwrap();
        }
        while let Some((line, rest)) = self.text.split_once('\n') {
            self.latest = rate(line).or(self.latest);
            self.text = rest.to_owned();
        }
        self.latest.expect("a UART that sends has a rate")
    }
}

/// The rate in a line such as `pl011_baudrate_change new baudrate 0 (clk: 0hz, ibrd: 27, fbrd: 8)`. The emulator knows no clock
/// of the UART and therefore no rate; the dividers say it: 16 bit times in core cycles, whole and in 64ths.
fn rate(line: &str) -> Option<u32> {
    let number = |name: &str| -> Option<u64> {
        let (_, after) = line.split_once(name)?;
        after.split(|c: char| !c.is_ascii_digit()).next()?.parse().ok()
    };
    let divider = number("ibrd: ")? * 64 + number("fbrd: ")?;
    u32::try_from((CORE_HZ * 4).checked_div(divider)?).ok()
}
