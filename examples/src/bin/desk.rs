//! Three sensors on a virtual line, found and read by the real driver: no hardware needed.
//!
//! Wiring: none. On a real board put the board's open-drain pin and delay in the place of `line.pin()` and `line.delay()`.
//!
//! Command: `cargo run --release -p slotwise-examples --bin desk`
//!
//! Expected output:
//! ```text
//! 10:030000000000:A2   25.0625 degC  seen busy
//! 28:020000000000:70   -0.5000 degC  seen busy
//! 28:010000000000:29   10.1250 degC  seen busy
//! ```

use slotwise::Error;
use slotwise::bus::{Bus, Roster, SearchScope, Target};
use slotwise::line::{Line, Overhead, PinLine, Timing};
use slotwise::thermometer::{Thermometer, Wait, convert};
use slotwise_virtual_line::{Cpu, LineConfig, Part, SensorConfig, VirtualLine};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let line = VirtualLine::new(LineConfig { cpu: Cpu::at_mhz(72), ..LineConfig::default() }, 1)?;
    for (part, serial, millicelsius) in
        [(Part::Ds18b20, 1, 10_125), (Part::Ds18b20, 2, -500), (Part::Ds18s20, 3, 25_063)]
    {
        let id = line.attach(SensorConfig::new(part, serial))?;
        line.set_sensor_ambient_millicelsius(id, Some(millicelsius))?;
    }
    line.advance_ns(1_000_000_000_000); // until the sensors have the temperature of their surroundings

    let cpu = line.cpu();
    let overhead =
        Overhead { pin_write_ns: cpu.pin_write_ns, pin_read_ns: cpu.pin_read_ns, delay_ns: cpu.delay_overhead_ns };
    let master = PinLine::new(line.pin(), line.delay(), Timing::SHORT_LINE)?.with_overhead(overhead)?;
    // What a program does about an error depends on its kind: try again, ask for a sensor, or have the wiring mended.
    measure(&mut Bus::new(master)).map_err(|error| format!("{:?}: {error}", error.kind()).into())
}

/// Finds all sensors, has each measure, and prints what it says. Every error of the driver goes up as the one there is.
fn measure<L: Line>(bus: &mut Bus<L>) -> Result<(), Error<L::Error>> {
    let mut roster = Roster::<8>::new();
    bus.find(&mut roster, SearchScope::All)?;
    for &rom in roster.iter() {
        let sensor = Thermometer::new(rom)?;
        let longest_us = sensor.family().conversion_max_us(Default::default());
        let converted = convert(bus, Target::One(rom), Wait::PollAndTime, longest_us)?;
        let reading = sensor.read(bus, &converted.receipt)?;
        println!("{rom}  {:>8.4} degC  {}", reading.temperature, reading.evidence);
        for doubt in reading.doubts.iter() {
            println!("    doubtful: {doubt}");
        }
    }
    Ok(())
}
