//! The read path once more, with the one error and its kind: what a program pays that asks for it.

#![no_std]
#![no_main]

use core::convert::Infallible;
use slotwise::bus::{Bus, RomCode, SearchScope, Target};
use slotwise::line::{Line, PinLine, Timing};
use slotwise::thermometer::{CONVERSION_MAX_US, Reading, Receipt, Thermometer, Wait, convert, supply};
use slotwise::{Error, ErrorKind};
use slotwise_size_report::{Clock, Pin, write};

const TEMPERATURE: usize = 8;
const DOUBTS: usize = 9;
const SERIAL: usize = 10;
const FAULT: usize = 11;

type Outcome<T> = Result<T, Error<Infallible>>;

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
            Err(fault) => write(FAULT, number(fault.kind())),
        }
    }
}

/// A program that does something else for each kind.
fn number(kind: ErrorKind) -> u32 {
    match kind {
        ErrorKind::Line => 3,
        ErrorKind::Master => 5,
        ErrorKind::Damaged => 7,
        ErrorKind::NoAnswer => 11,
        ErrorKind::Impossible => 13,
        ErrorKind::NotConverted => 17,
        ErrorKind::Refused => 19,
        _ => 23,
    }
}

/// The same steps in the same frames as in the image of the read path.
fn measure() -> Outcome<Reading> {
    let line = PinLine::new(Pin, Clock, Timing::SHORT_LINE)?;
    let mut bus = Bus::new(line);
    let rom = search(&mut bus)?;
    let receipt = convert_all(&mut bus)?;
    read(&mut bus, rom, &receipt)
}

#[inline(never)]
fn search(bus: &mut Bus<impl Line<Error = Infallible>>) -> Outcome<RomCode> {
    let mut last = None;
    for found in bus.search(SearchScope::All) {
        let rom = found?;
        for byte in rom.serial() {
            write(SERIAL, u32::from(byte));
        }
        last = Some(rom);
    }
    last.ok_or(Error::NoPresence)
}

#[inline(never)]
fn convert_all(bus: &mut Bus<impl Line<Error = Infallible>>) -> Outcome<Receipt> {
    let wait = Wait::suits(supply(bus, Target::All)?);
    Ok(convert(bus, Target::All, wait, CONVERSION_MAX_US)?.receipt)
}

#[inline(never)]
fn read(bus: &mut Bus<impl Line<Error = Infallible>>, rom: RomCode, receipt: &Receipt) -> Outcome<Reading> {
    Ok(Thermometer::new(rom)?.read(bus, receipt)?)
}
