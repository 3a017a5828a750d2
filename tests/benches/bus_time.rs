//! Bus time of the driver over the floor that the datasheets set, in the virtual line's time: deterministic, whatever the
//! machine does meanwhile. Ends with an error if a figure is missed.
//!
//! `cargo bench -p slotwise-tests --bench bus_time`
#![allow(clippy::unwrap_used)] // a bench is a test

#[path = "../tests/all/desk/mod.rs"]
mod desk;

use std::process::ExitCode;

use desk::bus;
use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::line::Timing;
use slotwise::thermometer::{Thermometer, Wait, convert};
use slotwise_virtual_line::{Cable, Cpu, LineConfig, Part, SensorConfig, VirtualLine};

/// Reset 960 us, slots of 61 us (DS18B20 datasheet (7/19), AC table: tRSTL + tRSTH, tSLOT + tREC). Match ROM and Read
/// Scratchpad are 8 + 64 + 8 + 72 slots.
const READ_FLOOR_US: f64 = 960.0 + 152.0 * 61.0;
/// A search pass is 8 + 64 x 3 slots.
const SEARCH_FLOOR_US: f64 = 960.0 + 200.0 * 61.0;

fn line(mhz: u32, sensors: u64) -> (VirtualLine, Vec<RomCode>) {
    let config = LineConfig {
        cpu: Cpu::at_mhz(mhz),
        cable: Cable { length_mm: 1_000, pf_per_m: 50 },
        // Twenty sensors are 500 pF; 2.2 kohm or less on crowded lines is common practice.
        pull_up_ohm: Some(if sensors > 4 { 2_200 } else { 4_700 }),
        ..LineConfig::default()
    };
    let line = VirtualLine::new(config, 1).unwrap();
    let roms = (0..sensors)
        .map(|serial| {
            // Spread out conversion times, 70 to 89 percent of the datasheet maximum.
            let sensor = SensorConfig {
                conversion_permille: 700 + 10 * u32::try_from(serial % 20).unwrap(),
                ..SensorConfig::new(Part::Ds18b20, serial * 0x0001_0309_0711 + 1)
            };
            let rom = RomCode::new(sensor.rom.bytes()).unwrap();
            line.attach(sensor).unwrap();
            rom
        })
        .collect();
    (line, roms)
}

fn us_of<T>(line: &VirtualLine, work: impl FnOnce() -> T) -> (f64, T) {
    let start = line.now_ns();
    let result = work();
    ((line.now_ns() - start) as f64 / 1_000.0, result)
}

struct Report {
    missed: bool,
}

impl Report {
    fn row(&mut self, what: &str, mhz: u32, us: f64, floor_us: f64, most: f64) {
        let ratio = us / floor_us;
        let verdict = if ratio <= most { "met" } else { "MISSED" };
        self.missed |= ratio > most;
        println!(
            "{what:<36} {mhz:>3} MHz {:>9.3} ms {:>9.3} ms {ratio:>7.3} {most:>6.2}  {verdict}",
            us / 1e3,
            floor_us / 1e3
        );
    }
}

fn main() -> ExitCode {
    println!(
        "{:<36} {:>7} {:>12} {:>12} {:>7} {:>6}",
        "short-line timing, virtual line", "core", "bus time", "floor", "ratio", "most"
    );
    let mut report = Report { missed: false };
    for (mhz, most) in [(72, 1.06), (8, 1.10)] {
        let (line, roms) = line(mhz, 2);
        let mut bus = bus(&line, Timing::SHORT_LINE);
        let sensor = Thermometer::new(roms[0]).unwrap();
        let (us, scratchpad) = us_of(&line, || sensor.read_scratchpad(&mut bus));
        scratchpad.unwrap();
        report.row("Match ROM + Read Scratchpad", mhz, us, READ_FLOOR_US, most);
    }
    for (mhz, most) in [(72, 1.06), (8, 1.10)] {
        for sensors in [1, 8, 20] {
            let (line, roms) = line(mhz, sensors);
            let mut bus = bus(&line, Timing::SHORT_LINE);
            let (us, found) = us_of(&line, || bus.search(SearchScope::All).filter_map(Result::ok).count());
            assert_eq!(found, roms.len());
            report.row(&format!("ROM search, each of {sensors}"), mhz, us / sensors as f64, SEARCH_FLOOR_US, most);
        }
    }
    for mhz in [72, 8] {
        let (line, roms) = line(mhz, 20);
        let mut bus = bus(&line, Timing::SHORT_LINE);
        let (us, ()) = us_of(&line, || {
            let converted = convert(&mut bus, Target::All, Wait::Poll, 750_000).unwrap();
            for rom in &roms {
                let reading = Thermometer::new(*rom).unwrap().read(&mut bus, &converted.receipt).unwrap();
                assert!(reading.is_trusted());
            }
        });
        // The slowest sensor takes 89 percent of 750 ms.
        let floor_us = 0.89 * 750_000.0 + 20.0 * READ_FLOOR_US;
        report.row("fresh 12-bit readings of 20", mhz, us, floor_us, if mhz == 72 { 1.06 } else { 1.10 });
    }
    if report.missed { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}
