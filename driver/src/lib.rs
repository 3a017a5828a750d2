//! Slotwise drives 1-Wire temperature sensors from any microcontroller or Linux board that has
//! [embedded-hal](embedded_hal) 1.0 pins and a delay.
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
//! No allocation, no statics, no unsafe code.
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
//!     let mut bus = Bus::new(PinLine::new(pin, delay, Timing::RECOMMENDED)?);
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
//! (`line::CriticalSection`, an interrupt mask).
//!
//! # Minimum Rust
//! The `rust-version` of the manifest. It may rise with a minor version.
#![no_std]
#![forbid(unsafe_code)]

pub mod bus;
mod crc;
mod error;
pub mod line;
pub mod thermometer;

pub use error::{Error, ErrorKind};
