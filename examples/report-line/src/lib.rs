//! Readings as lines of JSON with a check value: what a chip sends up a UART, and what a board reads.
//!
//! ```text
//! {"from":"barn","count":17,"rom":"28:010000000000:29","millicelsius":10125,"evidence":"seen busy","doubts":[],"crc16":"4DB6"}
//! ```
//!
//! `count` goes up by one with each line, so that a reader sees what it has missed. `crc16` is the CRC-16 of all bytes before
//! `,"crc16"`: a UART has no check of its own, and half a line that happens to be JSON is still half a line.
#![no_std]
#![forbid(unsafe_code)]

mod measure;

pub use measure::{SENSORS, measure_together};

use core::fmt::{self, Display, Write};

use heapless::String;
use slotwise::bus::{RomCode, crc16};
use slotwise::thermometer::Reading;

/// The longest line: one with all doubts that there are.
pub const LINE_BYTES: usize = 512;
/// Bytes of the text of an error. The rest is left out.
const ERROR_BYTES: usize = 120;
/// What stands between the text that is checked, and its check value.
const CHECK: &str = ",\"crc16\":\"";
/// Behind the check value.
const END: &str = "\"}";

/// A line with its line feed.
pub type ReportLine = String<LINE_BYTES>;

/// Makes the lines of one sender.
#[derive(Debug)]
pub struct Lines<'a> {
    from: &'a str,
    count: u32,
}

impl<'a> Lines<'a> {
    /// The lines of a sender of this name. At most 20 characters, none of which JSON escapes.
    pub const fn new(from: &'a str) -> Self {
        Self { from, count: 0 }
    }

    /// The line of a reading, with what was seen of its conversion and what speaks against it.
    pub fn reading(&mut self, rom: RomCode, reading: &Reading) -> ReportLine {
        self.line(|line| {
            write!(line, ",\"rom\":\"{rom}\",\"millicelsius\":{}", reading.temperature.millicelsius())?;
            write!(line, ",\"evidence\":\"{}\",\"doubts\":[", reading.evidence)?;
            for (place, doubt) in reading.doubts.iter().enumerate() {
                write!(line, "{}\"{doubt}\"", if place > 0 { "," } else { "" })?;
            }
            line.push(']').map_err(|_| fmt::Error)
        })
    }

    /// The line of a sensor that gave no reading.
    pub fn failure(&mut self, rom: RomCode, error: impl Display) -> ReportLine {
        self.line(|line| {
            write!(line, ",\"rom\":\"{rom}\"")?;
            write_error(line, error)
        })
    }

    /// The line of a bus that could not be searched or used at all.
    pub fn trouble(&mut self, error: impl Display) -> ReportLine {
        self.line(|line| write_error(line, error))
    }

    fn line(&mut self, write_rest: impl FnOnce(&mut ReportLine) -> fmt::Result) -> ReportLine {
        let mut line = ReportLine::new();
        let whole = write!(line, "{{\"from\":\"{}\",\"count\":{}", self.from, self.count)
            .and_then(|()| write_rest(&mut line))
            .and_then(|()| {
                let check = crc16(line.as_bytes());
                writeln!(line, "{CHECK}{check:04X}{END}")
            });
        self.count = self.count.wrapping_add(1);
        if whole.is_err() {
            // Only a name that is too long gets here. A line that is cut off has no check value and is refused by its reader.
            line.clear();
        }
        line
    }
}

/// Writes the text of an error, as far as there is room for it.
fn write_error(line: &mut ReportLine, error: impl Display) -> fmt::Result {
    line.write_str(",\"error\":\"")?;
    // Full is no failure here: the rest of the text is left out.
    let _ = write!(Escaped { line, room: ERROR_BYTES }, "{error}");
    line.write_str("\"")
}

/// Text inside a JSON string, in ASCII.
struct Escaped<'a> {
    line: &'a mut ReportLine,
    room: usize,
}

impl Write for Escaped<'_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for character in text.chars() {
            let character = match character {
                '"' | '\\' => '\'',
                ' '..='~' => character,
                _ => '?',
            };
            self.room = self.room.checked_sub(1).ok_or(fmt::Error)?;
            self.line.push(character).map_err(|_| fmt::Error)?;
        }
        Ok(())
    }
}

/// Why a line is no report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refused {
    /// It does not end in a check value: a part of it is missing.
    Torn,
    /// Its check value is not that of its text: bytes were changed, or two lines are in one.
    Damaged,
}

impl Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Torn => "torn line",
            Self::Damaged => "damaged line",
        })
    }
}

impl core::error::Error for Refused {}

/// Holds a line, without its line feed, against its check value, and returns it.
///
/// # Errors
/// [`Refused`] if it is not the whole line as it was sent.
pub fn checked(line: &[u8]) -> Result<&str, Refused> {
    let whole = core::str::from_utf8(line).map_err(|_| Refused::Damaged)?;
    let rest = whole.strip_suffix(END).ok_or(Refused::Torn)?;
    let (text, check) = rest.rsplit_once(CHECK).ok_or(Refused::Torn)?;
    let check = u16::from_str_radix(check, 16).map_err(|_| Refused::Damaged)?;
    if crc16(text.as_bytes()) == check { Ok(whole) } else { Err(Refused::Damaged) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use slotwise::thermometer::{AlarmLimits, Doubt, Doubts, Evidence, Resolution, Settings, Temperature, Thermometer};

    /// A ROM code with the CRC of its seven bytes.
    fn rom() -> RomCode {
        let mut bytes = [0x28, 1, 0, 0, 0, 0, 0, 0];
        bytes[7] = slotwise::bus::crc8(&bytes[..7]);
        RomCode::new(bytes).unwrap()
    }

    fn reading() -> Reading {
        let thermometer = Thermometer::new(rom()).unwrap();
        let settings = Settings { limits: AlarmLimits { high: 75, low: 70 }, resolution: Some(Resolution::Bits12) };
        let scratchpad = slotwise::thermometer::Scratchpad::encode(
            thermometer.family(),
            Temperature::from_sixteenths(0x00A2),
            settings,
        );
        thermometer.interpret(scratchpad, Evidence::SeenBusy).unwrap()
    }

    #[test]
    fn a_line_is_json_and_passes_its_check() {
        let mut lines = Lines::new("barn");
        lines.trouble("nothing");
        let line = lines.reading(rom(), &reading());
        let whole = checked(line.as_bytes().strip_suffix(b"\n").unwrap()).unwrap();
        let json: serde_json::Value = serde_json::from_str(whole).unwrap();
        assert_eq!(json["from"], "barn");
        assert_eq!(json["count"], 1);
        // 10.125 degC is 00A2h (DS18B20 datasheet (7/19), Table 1).
        assert_eq!(json["millicelsius"], 10_125);
        assert_eq!(json["evidence"], "seen busy");
        assert_eq!(json["doubts"], serde_json::json!([]));
    }

    #[test]
    fn the_line_of_the_documentation_passes_its_check_and_is_what_is_sent() {
        let documented = include_str!("../../chips/README.md").lines().find(|line| line.starts_with('{')).unwrap();
        assert_eq!(checked(documented.as_bytes()), Ok(documented));
        assert!(include_str!("lib.rs").lines().any(|line| line.strip_prefix("//! ") == Some(documented)));
        let line = Lines { from: "barn", count: 17 }.reading(rom(), &reading());
        assert_eq!(line.trim_end(), documented);
    }

    #[test]
    fn all_doubts_and_the_longest_name_fit() {
        let mut reading = reading();
        reading.doubts = Doubt::ALL.into_iter().fold(Doubts::NONE, |mut doubts, doubt| {
            doubts.insert(doubt);
            doubts
        });
        let mut lines = Lines { from: "12345678901234567890", count: u32::MAX };
        let line = lines.reading(rom(), &reading);
        let json: serde_json::Value = serde_json::from_str(line.trim_end()).unwrap();
        assert_eq!(json["doubts"].as_array().unwrap().len(), Doubt::ALL.len());
        assert_eq!(checked(line.trim_end().as_bytes()), Ok(line.trim_end()));
    }

    #[test]
    fn the_text_of_an_error_cannot_end_its_string_and_is_cut_to_its_room() {
        let line = Lines::new("a").failure(rom(), "\"\\\n\u{e9}x".repeat_to(1_000));
        let json: serde_json::Value = serde_json::from_str(line.trim_end()).unwrap();
        let text = json["error"].as_str().unwrap();
        assert!(text.starts_with("''??x") && text.len() == ERROR_BYTES, "{text}");
    }

    /// A text, over and over.
    struct Repeated(&'static str, usize);

    trait RepeatTo {
        fn repeat_to(self, times: usize) -> Repeated;
    }

    impl RepeatTo for &'static str {
        fn repeat_to(self, times: usize) -> Repeated {
            Repeated(self, times)
        }
    }

    impl Display for Repeated {
        fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            (0..self.1).try_for_each(|_| f.write_str(self.0))
        }
    }

    #[test]
    fn no_part_of_a_line_and_no_changed_line_passes() {
        let line = Lines::new("barn").reading(rom(), &reading());
        let line = line.trim_end().as_bytes();
        for length in 0..line.len() {
            assert_eq!(checked(&line[..length]), Err(Refused::Torn), "the first {length} bytes");
            if length > 0 {
                assert!(checked(&line[length..]).is_err(), "without the first {length} bytes");
            }
        }
        for place in 0..line.len() {
            for bit in 0..8 {
                let mut changed = ReportLine::new();
                changed.push_str(core::str::from_utf8(line).unwrap()).unwrap();
                let mut changed = changed.into_bytes();
                changed[place] ^= 1 << bit;
                assert!(checked(&changed).is_err(), "bit {bit} of byte {place}");
            }
        }
    }
}
