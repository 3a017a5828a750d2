//! The driver's whole read path: search, convert, wait, read the scratchpad, decode and check it.

#![no_std]
#![no_main]

use slotwise::bus::{Bus, RomCode, SearchScope, Target};
use slotwise::line::{Line, PinLine, Timing};
use slotwise::thermometer::{CONVERSION_MAX_US, Reading, Receipt, Thermometer, Wait, convert, supply};
use slotwise_size_report::{Clock, Pin, write};

const TEMPERATURE: usize = 8;
const DOUBTS: usize = 9;
const SERIAL: usize = 10;
const FAULT: usize = 11;

/// Where the image begins.
#[expect(unsafe_code, reason = "the linker looks for the name")]
#[unsafe(no_mangle)]
pub extern "C" fn entry() -> ! {
    loop {
        match measure() {
            Ok(reading) => {
                write(TEMPERATURE, u32::from(reading.temperature.sixteenths().cast_unsigned()));
                write(DOUBTS, reading.doubts.iter().count() as u32);
            }
            Err(fault) => write(FAULT, fault),
        }
    }
}

/// Finds every sensor, lets all convert, and reads the one found last. Each step that fails has a number.
///
/// Each step is a function of its own, as in a program that takes it in more than one place. The line and what is known
/// about it lie in the frame of this function, and count.
fn measure() -> Result<Reading, u32> {
    let line = PinLine::new(Pin, Clock, Timing::SHORT_LINE).map_err(|_| 1_u32)?;
    let mut bus = Bus::new(line);
    let rom = search(&mut bus)?;
    let receipt = convert_all(&mut bus)?;
    read(&mut bus, rom, &receipt)
}

#[inline(never)]
fn search(bus: &mut Bus<impl Line>) -> Result<RomCode, u32> {
    let mut last = None;
    for found in bus.search(SearchScope::All) {
        let rom = found.map_err(|_| 2_u32)?;
        for byte in rom.serial() {
            write(SERIAL, u32::from(byte));
        }
        last = Some(rom);
    }
    last.ok_or(3)
}

#[inline(never)]
fn convert_all(bus: &mut Bus<impl Line>) -> Result<Receipt, u32> {
    let wait = Wait::suits(supply(bus, Target::All).map_err(|_| 4_u32)?);
    convert(bus, Target::All, wait, CONVERSION_MAX_US).map(|converted| converted.receipt).map_err(|_| 5)
}

#[inline(never)]
fn read(bus: &mut Bus<impl Line>, rom: RomCode, receipt: &Receipt) -> Result<Reading, u32> {
    let thermometer = Thermometer::new(rom).map_err(|_| 6_u32)?;
    thermometer.read(bus, receipt).map_err(|_| 7)
}
