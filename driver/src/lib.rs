//! Slotwise drives 1-Wire temperature sensors from any microcontroller that has
//! [embedded-hal](embedded_hal) 1.0 pins and a delay, and from any UART.
//!
//! # Supported, and not
//! Families 28h (DS18B20), 10h (DS18S20, with its extended resolution), 22h (DS1822), 3Bh (DS1825) and 42h (DS28EA00); ROM
//! search for all, by family and for alarms; 9 to 12 bits; alarm limits; EEPROM; local and parasite power; waiting by
//! poll, by time or under the strong pull-up, in blocking, [`nb`] and async code.
//!
//! **Not** supported: overdrive speed, the chain function and pins of the DS28EA00, thermocouple parts that share family
//! code 3Bh, and devices other than thermometers (they are found and named, not read).
//!
//! This is not a certified measuring instrument. Do not rely on it for food, medical, fire or process safety. Hot water
//! and steam scald; keep the line away from mains wiring; follow local codes and licensed practice.
//!
//! # Three layers
//! [`mod@line`]: reset, slots and the strong pull-up, on pins. [`bus`]: which sensors are on the line. [`thermometer`]: what they measure.
//! No statics, no unsafe code, and no allocation but in the ports of an operating system (feature `std`).
//!
//! # Wiring
//! ```text
//!  3.0 to 5.5 V ──┬───────────────── 3 VDD   (parasite power: pin 3 to GND instead)
//!             [4.7 kohm]
//!  open-drain pin ┴────── line ───── 2 DQ    one sensor; more of them in parallel
//!  GND ───────────────────────────── 1 GND
//! ```
//!
//! # Example
//! ```
//! use embedded_hal::delay::DelayNs;
//! use embedded_hal::digital::{InputPin, OutputPin};
//! use slotwise::bus::{Bus, Roster, SearchScope};
//! use slotwise::line::{PinLine, Timing};
//! use slotwise::thermometer::{CONVERSION_MAX_US, Round, Thermometer};
//!
//! fn measure<P: InputPin + OutputPin<Error: 'static>>(pin: P, delay: impl DelayNs) -> Result<(), Box<dyn std::error::Error>> {
//!     let mut bus = Bus::new(PinLine::new(pin, delay, Timing::SHORT_LINE)?);
//!
//!     let mut roster = Roster::<16>::new();
//!     bus.find(&mut roster, SearchScope::All)?;
//!
//!     // Each sensor reports that it has started; all convert at the same time. On parasite power: Thermometer::convert_proven.
//!     let round = Round::begin(&mut bus);
//!     let mut started = heapless::Vec::<_, 16>::new();
//!     for &rom in roster.iter() {
//!         started.extend([round.start(&mut bus, rom)?]);
//!     }
//!     let over = round.wait(&mut bus, CONVERSION_MAX_US)?;
//!
//!     for sensor in started {
//!         let reading = Thermometer::new(sensor.rom())?.read(&mut bus, &over.receipt(sensor))?;
//!         println!("{} {} degC", sensor.rom(), reading.temperature);
//!         for doubt in reading.doubts.iter() {
//!             println!("  doubtful: {doubt}");
//!         }
//!     }
//!     Ok(())
//! }
//! ```
//!
//! # Linux
//! A user-space pin on Linux is no bus master: a slot must be sampled within 15 us of its falling edge, and the kernel may stop the
//! program for milliseconds at any time, without a mask against it. A delay that sleeps is refused by
//! [`TimingError::CoarseDelay`](line::TimingError::CoarseDelay) once its cost is known; one that spins has no such limit and still loses
//! bits whenever the kernel takes the core. Frames that are damaged in this way are found by their CRC, but bits of a search, of polls and of
//! the power mode have none. Use a UART instead: [`line::SerialLine`] makes a bus master of a serial port, on any system, because the hardware of the
//! port makes the pulses. `line::SystemPort` is such a port on anything that `std::io` reads and writes and whose rate can be set
//! (feature `std`). For the strong pull-up see [`line::SerialLine`] too.
//!
//! # UARTs of chips
//! [`line::UartPort`] makes a port of a UART whose HAL has the traits of [`embedded_io`], `line::UartHalves` of one with those of
//! `embedded-hal-nb` (the feature of that name). What to do about a HAL that drops bytes with a low stop bit, is said there.
//!
//! # Other devices
//! [`bus::Bus`] finds and addresses devices of every family; the driver of another device is built on [`Bus::transact`](bus::Bus::transact). An
//! invented counter of pulses, whose command 5Ah with the number of a channel is answered by four bytes and a CRC-16 over command and
//! answer:
//!
//! ```
//! use slotwise::bus::{Bus, FamilyCode, RomCode, Target, crc16};
//! use slotwise::line::Line;
//!
//! const FAMILY: FamilyCode = FamilyCode(0x70);
//! const READ_COUNT: u8 = 0x5A;
//!
//! struct PulseCounter {
//!     rom: RomCode,
//! }
//!
//! impl PulseCounter {
//!     fn new(rom: RomCode) -> Option<Self> {
//!         (rom.family() == FAMILY).then_some(Self { rom })
//!     }
//!
//!     /// The count of a channel. None: the device is missing, or the answer is damaged.
//!     fn count<L: Line>(&self, bus: &mut Bus<L>, channel: u8) -> Result<Option<u32>, slotwise::Error<L::Error>> {
//!         let command = [READ_COUNT, channel];
//!         let mut answer = [0; 6];
//!         bus.transact(Target::One(self.rom), &command, &mut answer)?;
//!         let [a, b, c, d, crc_low, crc_high] = answer;
//!         let is_sound = crc16(&[READ_COUNT, channel, a, b, c, d]) == u16::from_le_bytes([crc_low, crc_high]);
//!         Ok(is_sound.then_some(u32::from_le_bytes([a, b, c, d])))
//!     }
//! }
//! ```
//! A device that answers nothing reads as ones, so a CRC or a fixed bit must be part of every answer.
//!
//! # Timing
//! See [`line::Timing`] for the sets and the datasheet limits, [`line::Overhead`] and [`line::PinLine::calibrate`] for slow cores, and
//! [`line::InterruptMask`] for interrupts. Conversions take up to 93.75, 187.5, 375 and 750 ms at 9, 10, 11 and 12 bits (DS18B20
//! datasheet (7/19), Table 2).
//!
//! # Errors
//! Every operation's error converts into the one [`Error`], so `?` works throughout; its [`kind`](Error::kind) says what has to
//! change before another try can succeed. Basic operations return a type that lists what can happen there, and those that are made of
//! several return [`Error`] itself. Electrical faults, missing sensors and damaged frames have different errors:
//!
//! | observed | error | kind |
//! |---|---|---|
//! | line low and stays low | [`LineError::StuckLow`](line::LineError::StuckLow) | [`Line`](ErrorKind::Line) |
//! | line rises too slowly | [`LineError::NeverIdleHigh`](line::LineError::NeverIdleHigh) | [`Line`](ErrorKind::Line) |
//! | master samples too late after a reset | [`LineError::MasterTooLate`](line::LineError::MasterTooLate) | [`Master`](ErrorKind::Master) |
//! | delay too coarse, pin too slow | [`TimingError`](line::TimingError) | [`Refused`](ErrorKind::Refused) |
//! | no sensor answers a reset | [`Error::NoPresence`] | [`NoAnswer`](ErrorKind::NoAnswer) |
//! | this sensor does not answer | [`FrameError::NoAnswer`](thermometer::FrameError::NoAnswer) | [`NoAnswer`](ErrorKind::NoAnswer) |
//! | damaged frame | [`FrameError::Crc`](thermometer::FrameError::Crc) | [`Damaged`](ErrorKind::Damaged) |
//! | sensor did not convert, or not in time | [`ConvertError`](thermometer::ConvertError) | [`NotConverted`](ErrorKind::NotConverted) |
//! | settings did not arrive | [`Error::NotTaken`], [`Error::NotSaved`] | [`NotTaken`](ErrorKind::NotTaken) |
//! | a doubtful number | [`Doubt`](thermometer::Doubt) on the [`Reading`](thermometer::Reading) | |
//!
//! # Features
//! All off by default, and additive: `defmt` (log formats), `serde` (plain types as data, checked when they are read), `critical-section`
//! (`line::CriticalSection`, an interrupt mask), `embedded-hal-nb` (`line::UartHalves`, UARTs with its traits), `std` (`line::SystemPort`,
//! serial ports of an operating system).
//!
//! # Minimum Rust
//! The `rust-version` of the manifest. It may rise with a minor version.
#![no_std]
#![forbid(unsafe_code)]

#[cfg(feature = "std")]
extern crate std;

/// The example of the package's README.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;

pub mod bus;
mod crc;
mod error;
pub mod line;
pub mod thermometer;

pub use error::{Error, ErrorKind};
