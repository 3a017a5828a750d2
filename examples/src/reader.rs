//! Reads the lines that chips send, checks each, and survives torn ones.
//!
//! A reader that starts in the middle of a line, a cable that is pulled, and a chip that restarts are everyday events: each is reported,
//! and the next whole line is read.

use std::collections::HashMap;
use std::fmt;

use serde::Deserialize;
use slotwise::bus::RomCode;
use slotwise_report_line::{LINE_BYTES, Refused, checked};

/// What a sender says of a sensor, or of its whole line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// The sender.
    pub from: String,
    /// Its count of lines.
    pub count: u32,
    /// The sensor. None: the whole line.
    pub rom: Option<RomCode>,
    /// The reading, or why there is none.
    pub outcome: Result<Measured, String>,
}

/// A reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Measured {
    /// Thousandths of a degree Celsius.
    pub millicelsius: i32,
    /// What was seen of the conversion.
    pub evidence: String,
    /// What speaks against the number. Empty on a good reading.
    pub doubts: Vec<String>,
}

/// What a reader makes of its input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Event {
    /// A whole line.
    Report(Report),
    /// Lines of this sender are missing before the next report.
    Missed {
        /// The sender.
        from: String,
        /// How many.
        lines: u32,
    },
    /// The sender counts from the beginning again: it has restarted. What it had sent before may be missing.
    Restarted {
        /// The sender.
        from: String,
    },
    /// Something that is no whole line.
    Refused(Why),
}

/// Why something is no report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// Its check value is missing or wrong.
    Check(Refused),
    /// It is longer than any line.
    TooLong,
    /// Its check value is right, but this reader does not know such a line.
    Unknown,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Check(refused) => refused.fmt(f),
            Self::TooLong => f.write_str("no end of line"),
            Self::Unknown => f.write_str("unknown line"),
        }
    }
}

/// The members of a line. Members that are not known are left to newer readers.
#[derive(Deserialize)]
struct Members {
    from: String,
    count: u32,
    rom: Option<String>,
    millicelsius: Option<i32>,
    evidence: Option<String>,
    doubts: Option<Vec<String>>,
    error: Option<String>,
}

impl Members {
    fn report(self) -> Option<Report> {
        let rom = match self.rom {
            Some(rom) => Some(rom.parse().ok()?),
            None => None,
        };
        let outcome = match (self.error, self.millicelsius, self.evidence, self.doubts) {
            (Some(error), None, None, None) => Err(error),
            // A reading is always of a sensor.
            (None, Some(millicelsius), Some(evidence), Some(doubts)) if rom.is_some() => {
                Ok(Measured { millicelsius, evidence, doubts })
            }
            _ => return None,
        };
        Some(Report { from: self.from, count: self.count, rom, outcome })
    }
}

/// Makes events of bytes, in whatever pieces they arrive. Keeps no more than one line.
#[derive(Debug, Default)]
pub struct Reader {
    line: Vec<u8>,
    is_too_long: bool,
    /// The next count that is expected of each sender.
    expected: HashMap<String, u32>,
}

impl Reader {
    /// Takes bytes; hands over what they complete.
    pub fn take(&mut self, bytes: &[u8], mut hand_over: impl FnMut(Event)) {
        for &byte in bytes {
            match byte {
                b'\n' => {
                    let line = std::mem::take(&mut self.line);
                    if std::mem::take(&mut self.is_too_long) {
                        hand_over(Event::Refused(Why::TooLong));
                    } else {
                        self.end_line(&line, &mut hand_over);
                    }
                }
                _ if self.line.len() < LINE_BYTES => self.line.push(byte),
                _ => self.is_too_long = true,
            }
        }
    }

    /// Ends the input: what has no end of line is torn.
    pub fn finish(self, mut hand_over: impl FnMut(Event)) {
        if !self.line.is_empty() {
            hand_over(Event::Refused(Why::Check(Refused::Torn)));
        }
    }

    fn end_line(&mut self, line: &[u8], hand_over: &mut impl FnMut(Event)) {
        // Terminals and other programs may add it.
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        if line.is_empty() {
            return;
        }
        let text = match checked(line) {
            Ok(text) => text,
            Err(refused) => return hand_over(Event::Refused(Why::Check(refused))),
        };
        let Some(report) = serde_json::from_str::<Members>(text).ok().and_then(Members::report) else {
            return hand_over(Event::Refused(Why::Unknown));
        };
        if let Some(expected) = self.expected.insert(report.from.clone(), report.count.wrapping_add(1)) {
            match report.count.wrapping_sub(expected) {
                0 => {}
                // Half of all counts lie ahead, half behind.
                lines @ 1..0x8000_0000 => hand_over(Event::Missed { from: report.from.clone(), lines }),
                _ => hand_over(Event::Restarted { from: report.from.clone() }),
            }
        }
        hand_over(Event::Report(report));
    }
}

impl fmt::Display for Event {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Report(Report { from, rom, outcome, .. }) => {
                write!(f, "{from}")?;
                if let Some(rom) = rom {
                    write!(f, "  {rom}")?;
                }
                match outcome {
                    Ok(Measured { millicelsius, evidence, doubts }) => {
                        write!(f, "  {:9.3} degC  {evidence}", f64::from(*millicelsius) / 1_000.0)?;
                        doubts.iter().try_for_each(|doubt| write!(f, "; doubtful: {doubt}"))
                    }
                    Err(error) => write!(f, "  {error}"),
                }
            }
            Self::Missed { from, lines } => write!(f, "{from}  {lines} line(s) missed"),
            Self::Restarted { from } => write!(f, "{from}  restarted"),
            Self::Refused(why) => write!(f, "{why}"),
        }
    }
}
