//! A serial adapter with a virtual line behind it, at the far end of a pseudo-terminal: bytes become edges, and the
//! line becomes bytes.
//!
//! From one burst of bytes to the next the line's time goes on by as much as the time on the wall, and by no less than
//! the bit times of the bytes. So it never goes slower than that of the program: a sensor may be done earlier than the
//! program thinks, never later.

#![allow(dead_code, reason = "each test program uses a part of it")]

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::tcgetattr;
use slotwise::bus::RomCode;
use slotwise_virtual_line::{Fault, LineConfig, Part, PowerMode, RomCode as Bytes, SensorConfig, Uart, VirtualLine};

/// The sensors of `fixtures/rigs/serial.toml`, the temperature around each, and what it reads there: rows of Table 1 of
/// the DS18B20 datasheet (7/19). The DS1822 is software compatible with it (its datasheet, page 1).
pub const SENSORS: [(Part, &str, i32, u16); 3] = [
    (Part::Ds18b20, "28:C3A91F5E0407:8D", 25_062, 0x0191),
    (Part::Ds18b20, "28:571BE8260A0C:ED", 10_125, 0x00A2),
    (Part::Ds1822, "22:91D05C3A7F02:21", -10_125, 0xFF5E),
];

/// What is wrong with the adapter or its wiring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// Nothing.
    None,
    /// It is pulled out once so many bytes have come.
    UnpluggedAfter(u64),
    /// The echo of this byte is lost.
    Drops(u64),
    /// The echo of this byte comes after that of the next.
    Swaps(u64),
    /// This byte comes back twice.
    Doubles(u64),
    /// RX is joined to nothing.
    NoEcho,
    /// TX is joined to nothing: the line stays high.
    NoTransmitter,
    /// Its receiver runs at half the rate of its transmitter.
    SlowReceiver,
    /// The line is shorted to ground once so many bytes have come.
    ShortAfter(u64),
    /// No sensor is on the line.
    NoSensors,
    /// The first sensor lives on the line.
    Parasite,
}

/// Bytes that have reached the far end.
#[derive(Clone, Debug, Default)]
pub struct AdapterTraffic {
    pub bytes: u64,
    /// Bytes of each burst that was answered before the next one.
    pub bursts: Vec<usize>,
    pub rates: BTreeSet<u32>,
    /// From the first byte to the last echo.
    pub took: Duration,
}

/// A thread at the far end.
pub struct Adapter {
    /// The path of the port.
    pub port: String,
    traffic: Arc<Mutex<AdapterTraffic>>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    /// Keeps the pseudo-terminal open while no program has it.
    _near: File,
}

impl Adapter {
    /// Plugs it in. Each burst of bytes is answered `latency` after it has been on the line.
    pub fn plug_in(trouble: Trouble, latency: Duration) -> Self {
        let far = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).expect("a terminal");
        grantpt(&far).expect("it is ours");
        unlockpt(&far).expect("it can be opened");
        let path = ptsname(&far, Vec::new()).expect("it has a name");
        let port = path.to_str().expect("a path that is text").to_owned();
        let near = File::options().read(true).write(true).open(&port).expect("its other end");
        let (traffic, stop) = (Arc::<Mutex<AdapterTraffic>>::default(), Arc::<AtomicBool>::default());
        let (sees, stops) = (Arc::clone(&traffic), Arc::clone(&stop));
        let far = File::from(far);
        let thread = std::thread::spawn(move || FarEnd::new(far, trouble, latency, sees, stops).serve());
        Self { port, traffic, stop, thread: Some(thread), _near: near }
    }

    /// The file of the rig at this port.
    pub fn rig(&self) -> String {
        let text = include_str!("../../../../fixtures/rigs/serial.toml");
        assert!(text.contains("/dev/ttyUSB0"));
        text.replace("/dev/ttyUSB0", &self.port)
    }

    /// What was traffic so far.
    pub fn traffic(&self) -> AdapterTraffic {
        self.traffic.lock().expect("no holder of the lock has panicked").clone()
    }
}

impl Drop for Adapter {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn line_of_rig(trouble: Trouble) -> VirtualLine {
    let line = VirtualLine::new(LineConfig::default(), 1).expect("a line");
    if trouble == Trouble::NoSensors {
        return line;
    }
    for (place, (part, code, millicelsius, _)) in SENSORS.into_iter().enumerate() {
        let rom = Bytes::from_bytes(*code.parse::<RomCode>().expect("a code").bytes());
        let power = if trouble == Trouble::Parasite && place == 0 { PowerMode::Parasite } else { PowerMode::Local };
        let id = line.attach(SensorConfig { rom, power, ..SensorConfig::new(part, 0) }).expect("a sensor");
        line.set_sensor_ambient_millicelsius(id, Some(millicelsius)).expect("it is there");
    }
    line
}

struct FarEnd {
    file: File,
    trouble: Trouble,
    latency: Duration,
    traffic: Arc<Mutex<AdapterTraffic>>,
    stop: Arc<AtomicBool>,
}

impl FarEnd {
    const fn new(
        file: File,
        trouble: Trouble,
        latency: Duration,
        traffic: Arc<Mutex<AdapterTraffic>>,
        stop: Arc<AtomicBool>,
    ) -> Self {
        Self { file, trouble, latency, traffic, stop }
    }

    /// Whether bytes come within so many milliseconds.
    fn comes(&self, ms: i64) -> bool {
        let patience = Timespec { tv_sec: 0, tv_nsec: ms * 1_000_000 };
        let mut ends = [PollFd::new(&self.file, PollFlags::IN)];
        matches!(poll(&mut ends, Some(&patience)), Ok(1..)) && ends[0].revents().contains(PollFlags::IN)
    }

    /// All bytes of a burst: nothing follows them until they are answered.
    fn burst(&mut self) -> Option<Vec<u8>> {
        while !self.comes(20) {
            if self.stop.load(Ordering::Relaxed) {
                return None;
            }
        }
        let mut burst = Vec::new();
        let mut bytes = [0; 1024];
        loop {
            let count = self.file.read(&mut bytes).ok()?;
            burst.extend_from_slice(&bytes[..count]);
            // The terminal may hand on a burst in two pieces.
            if !self.comes(1) {
                return Some(burst);
            }
        }
    }

    fn serve(mut self) {
        let line = line_of_rig(self.trouble);
        let mut uart = Uart::new(&line);
        // When the last bytes arrived, in wall-clock time and in time of the line.
        let (mut came_at, mut line_ns) = (Instant::now(), line.now_ns());
        let mut number = 0;
        let (mut kept, mut began_at) = (None, None);
        while let Some(burst) = self.burst() {
            let now = Instant::now();
            line_ns += u64::try_from((now - came_at).as_nanos()).expect("not for so long");
            line.advance_ns(line_ns.saturating_sub(line.now_ns()));
            (came_at, line_ns) = (now, line.now_ns());
            // The far end of a pseudo-terminal sees the settings of the near one.
            let baud = tcgetattr(&self.file).expect("a terminal").output_speed();
            let mut echoes = Vec::new();
            for byte in &burst {
                if self.trouble == Trouble::UnpluggedAfter(number) {
                    return;
                }
                if self.trouble == Trouble::ShortAfter(number) {
                    line.inject(Fault::Short { ohm: 1 }).expect("a short");
                }
                let echo = uart.exchange(*byte, baud).expect("a rate").byte;
                match self.trouble {
                    Trouble::NoEcho => {}
                    Trouble::Drops(place) if place == number => {}
                    Trouble::Swaps(place) if place == number => kept = Some(echo),
                    Trouble::Doubles(place) if place == number => echoes.extend([echo, echo]),
                    Trouble::NoTransmitter => echoes.push(0xFF),
                    // Each of its bits lasts two of the sender's: what is looked at are bits 2, 4, 6, and then the idle
                    // line.
                    Trouble::SlowReceiver => {
                        let bit = |place: u32| echo >> place & 1;
                        echoes.push(0xF0 | bit(2) | bit(4) << 1 | bit(6) << 2 | 1 << 3);
                    }
                    _ => {
                        echoes.push(echo);
                        echoes.extend(kept.take());
                    }
                }
                number += 1;
            }
            {
                let mut traffic = self.traffic.lock().expect("no holder of the lock has panicked");
                traffic.bytes += burst.len() as u64;
                traffic.bursts.push(burst.len());
                traffic.rates.insert(baud);
            }
            // Ten bits each, and then what the adapter takes.
            let bits_us = burst.len() as u64 * 10_000_000 / u64::from(baud);
            let answered_at = now + Duration::from_micros(bits_us) + self.latency;
            std::thread::sleep(answered_at.saturating_duration_since(Instant::now()));
            if self.file.write_all(&echoes).is_err() {
                return;
            }
            self.traffic.lock().expect("no holder of the lock has panicked").took =
                began_at.get_or_insert(now).elapsed();
        }
    }
}
