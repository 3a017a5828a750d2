//! How long a captured line takes to decode and judge, and how much memory:
//! `cargo bench -p hil-runner --bench waveform`.
//!
//! A line that never rests: Match ROM and Read Scratchpad of eight sensors in turn, slots of 70 us, sampled every 125
//! ns, some 14 000 slots a second. One second of it is read seven times, and the median counts; then an hour of it is
//! made while it is read.

use std::io::{Cursor, Read};
use std::time::{Duration, Instant};

use slotwise_waveform::capture::Capture;
use slotwise_waveform::decode::{Borders, Habits};
use slotwise_waveform::{Chosen, Outcome, analyse};

const SECOND_NS: u64 = 1_000_000_000;
const HEADER: &str = "$timescale 1 ns $end\n$var wire 1 ! line $end\n$enddefinitions $end\n#0 1!\n";
/// 24.125 degC, as it was read off a real line; the ROM codes are made up, CRCs computed below.
const SCRATCHPAD: [u8; 9] = [0x82, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0xE1];

/// Falls and rises of about a second, from its beginning on.
fn second() -> Vec<(u64, bool)> {
    let crc = crc::Crc::<u8>::new(&crc::CRC_8_MAXIM_DOW);
    let mut changes = Vec::new();
    let mut now = 100_000;
    let mut low = |changes: &mut Vec<(u64, bool)>, ns: u64, then_ns: u64| {
        changes.extend([(now, false), (now + ns, true)]);
        now += ns + then_ns;
        now
    };
    for number in (0..8_u8).cycle() {
        let mut rom = [0x28, number, 0x54, 0x25, 0x16, 0x02, 0, 0];
        rom[7] = crc.checksum(&rom[..7]);
        low(&mut changes, 500_000, 28_000);
        low(&mut changes, 115_000, 365_000);
        let written = [&[0x55][..], &rom, &[0xBE]].concat();
        let mut end = 0;
        for (byte, zero_ns) in
            written.iter().map(|byte| (byte, 62_500)).chain(SCRATCHPAD.iter().map(|byte| (byte, 28_000)))
        {
            for bit in 0..8 {
                let ns = if byte >> bit & 1 == 1 { 5_000 } else { zero_ns };
                end = low(&mut changes, ns, 70_000 - ns);
            }
        }
        if end > SECOND_NS - 20_000_000 {
            break;
        }
    }
    changes
}

/// So many seconds of the same, made while they are read.
struct Seconds {
    changes: Vec<(u64, bool)>,
    left: u64,
    begins_ns: u64,
    text: Cursor<Vec<u8>>,
}

impl Seconds {
    fn new(changes: Vec<(u64, bool)>, seconds: u64) -> Self {
        Self { changes, left: seconds, begins_ns: 0, text: Cursor::new(HEADER.into()) }
    }
}

impl Read for Seconds {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        if self.text.position() == self.text.get_ref().len() as u64 && self.left > 0 {
            use std::io::Write;
            let mut text = std::mem::take(&mut self.text).into_inner();
            text.clear();
            for (at_ns, is_high) in &self.changes {
                writeln!(text, "#{} {}!", self.begins_ns + at_ns, u8::from(*is_high))?;
            }
            (self.left, self.begins_ns) = (self.left - 1, self.begins_ns + SECOND_NS);
            self.text = Cursor::new(text);
        }
        self.text.read(buffer)
    }
}

/// The most memory this process had, in kibibytes.
fn peak_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?.split_whitespace().next()?.parse().ok()
}

fn read(seconds: Seconds) -> (Duration, u64) {
    let before = Instant::now();
    let capture = Capture::open(seconds).expect("a capture");
    let chosen =
        Chosen { signal: 0, step_ns: 1, borders: Borders::default(), habits: Habits::default(), is_inverted: false };
    let report = analyse(capture, chosen, &mut |_| ());
    assert_eq!(report.outcome, Outcome::Sound, "{:?}", report.findings.first());
    (before.elapsed(), report.activity.slots)
}

fn main() {
    let changes = second();
    let mut times: Vec<(Duration, u64)> = (0..7).map(|_| read(Seconds::new(changes.clone(), 1))).collect();
    times.sort_unstable();
    let (median, slots) = times[3];
    println!("a second of a busy line, {slots} slots: {:.1} ms", median.as_secs_f64() * 1e3);
    let before = peak_kib();
    let (minute, _) = read(Seconds::new(changes.clone(), 60));
    let after_a_minute = peak_kib();
    let (hour, slots) = read(Seconds::new(changes, 3_600));
    println!("a minute: {:.2} s; an hour, {slots} slots: {:.1} s", minute.as_secs_f64(), hour.as_secs_f64());
    match (before, after_a_minute, peak_kib()) {
        (Some(before), Some(minute), Some(hour)) => {
            println!(
                "most memory of the process: {before} KiB, {minute} KiB after the minute, {hour} KiB after the hour"
            );
        }
        _ => println!("this system does not say how much memory it took"),
    }
}
