//! From bytes to edges.

use core::fmt;

use super::{BEGIN, ESCAPE, GAP, LAST_OF_TWO, LONG, ONE_BYTE, QUIET, TWO_BYTES};

/// What a stream says. Times are units since it began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Item {
    /// The stream begins.
    Begin {
        /// The level of the line.
        high: bool,
    },
    /// The line changes.
    Edge {
        /// When.
        at: u64,
        /// The level after it.
        high: bool,
    },
    /// There was no edge until then.
    Quiet {
        /// Until when.
        at: u64,
    },
    /// Edges were lost.
    Gap {
        /// When the first of them was.
        from: u64,
        /// When the last was.
        to: u64,
        /// How many.
        edges: u64,
        /// The level after them.
        high: bool,
    },
}

/// Bytes that are no stream.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unreadable {
    /// There is no record of this kind.
    Record {
        /// Its number.
        kind: u8,
    },
    /// A number has more than 64 bits.
    Number,
    /// A level is neither 0 nor 1.
    Level,
    /// An edge before the beginning.
    NotBegun,
}

impl fmt::Display for Unreadable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Record { kind } => write!(f, "there is no record {kind:02X}h"),
            Self::Number => write!(f, "a number has more than 64 bits"),
            Self::Level => write!(f, "a level is neither 0 nor 1"),
            Self::NotBegun => write!(f, "an edge comes before the beginning"),
        }
    }
}

impl core::error::Error for Unreadable {}

#[derive(Clone, Copy, Debug)]
enum Expects {
    Any,
    SecondByte {
        first: u8,
    },
    Kind,
    /// The numbers of a record: how many there are already.
    Numbers {
        kind: u8,
        have: usize,
    },
}

/// Turns bytes back into edges. It does not fail on a stream that is cut anywhere; a stream of other bytes ends it.
#[derive(Clone, Debug)]
pub struct Decoder {
    expects: Expects,
    numbers: [u64; 4],
    number: u64,
    shift: u32,
    at: u64,
    high: Option<bool>,
}

impl Default for Decoder {
    fn default() -> Self {
        Self::new()
    }
}

impl Decoder {
    /// A decoder of a stream that has not begun.
    #[must_use]
    pub const fn new() -> Self {
        Self { expects: Expects::Any, numbers: [0; 4], number: 0, shift: 0, at: 0, high: None }
    }

    /// Takes a byte; what it completes.
    ///
    /// # Errors
    /// [`Unreadable`] for bytes that no encoder makes.
    pub fn push(&mut self, byte: u8) -> Result<Option<Item>, Unreadable> {
        match self.expects {
            Expects::Any => match byte {
                ESCAPE => {
                    self.expects = Expects::Kind;
                    Ok(None)
                }
                TWO_BYTES.. => {
                    self.expects = Expects::SecondByte { first: byte };
                    Ok(None)
                }
                _ => self.edge(u64::from(byte)).map(Some),
            },
            Expects::SecondByte { first } => {
                self.expects = Expects::Any;
                let high = u64::from(first.wrapping_sub(TWO_BYTES)) << 8;
                self.edge((ONE_BYTE + 1 + high + u64::from(byte)).min(LAST_OF_TWO)).map(Some)
            }
            Expects::Kind if byte > GAP => Err(Unreadable::Record { kind: byte }),
            Expects::Kind => {
                (self.number, self.shift) = (0, 0);
                self.expects = Expects::Numbers { kind: byte, have: 0 };
                Ok(None)
            }
            Expects::Numbers { kind, have } => self.take_number(kind, have, byte),
        }
    }

    fn take_number(&mut self, kind: u8, have: usize, byte: u8) -> Result<Option<Item>, Unreadable> {
        let group = u64::from(byte & 0x7F);
        if self.shift > 63 || (self.shift == 63 && group > 1) {
            return Err(Unreadable::Number);
        }
        self.number |= group << self.shift;
        self.shift += 7;
        if byte & 0x80 != 0 {
            return Ok(None);
        }
        if let Some(place) = self.numbers.get_mut(have) {
            *place = self.number;
        }
        (self.number, self.shift) = (0, 0);
        if kind == GAP && have < 3 {
            self.expects = Expects::Numbers { kind, have: have + 1 };
            return Ok(None);
        }
        self.expects = Expects::Any;
        self.record(kind).map(Some)
    }

    fn record(&mut self, kind: u8) -> Result<Item, Unreadable> {
        let [first, second, third, fourth] = self.numbers;
        match kind {
            LONG => self.edge(first),
            BEGIN => {
                let high = level(first)?;
                self.high = Some(high);
                self.at = 0;
                Ok(Item::Begin { high })
            }
            QUIET => {
                self.high.ok_or(Unreadable::NotBegun)?;
                self.at = self.at.saturating_add(first);
                Ok(Item::Quiet { at: self.at })
            }
            GAP => {
                self.high.ok_or(Unreadable::NotBegun)?;
                let high = level(fourth)?;
                let from = self.at.saturating_add(first);
                self.at = from.saturating_add(second);
                self.high = Some(high);
                Ok(Item::Gap { from, to: self.at, edges: third, high })
            }
            kind => Err(Unreadable::Record { kind }),
        }
    }

    fn edge(&mut self, units: u64) -> Result<Item, Unreadable> {
        let high = !self.high.ok_or(Unreadable::NotBegun)?;
        self.high = Some(high);
        self.at = self.at.saturating_add(units);
        Ok(Item::Edge { at: self.at, high })
    }
}

const fn level(number: u64) -> Result<bool, Unreadable> {
    match number {
        0 => Ok(false),
        1 => Ok(true),
        _ => Err(Unreadable::Level),
    }
}
