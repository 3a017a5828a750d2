//! A transaction: a reset, and all that follows up to the next one.

use std::fmt;

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Serialize, Serializer};

use super::Speed;

/// Phases that are kept of a transaction. No master needs as many.
const PHASES: usize = 64;
/// Bytes that are kept of a phase.
const BYTES: usize = 64;

/// Bytes in the order of the wire. In JSON `28 EE 94`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[cfg_attr(feature = "schema", schemars(with = "String"))]
pub struct Bytes(pub Vec<u8>);

impl fmt::Display for Bytes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, byte) in self.0.iter().enumerate() {
            write!(f, "{}{byte:02X}", if place == 0 { "" } else { " " })?;
        }
        Ok(())
    }
}

impl Serialize for Bytes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// A reset pulse and the presence pulse after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Reset {
    /// How long the master held the line low.
    pub low_ns: u64,
    /// The presence pulse, if there was one.
    pub presence: Option<Presence>,
    /// Whether the capture ends before an answer was due.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub is_open: bool,
}

/// A presence pulse: of one sensor, or of several at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Presence {
    /// From the rise after the reset to its fall.
    pub after_ns: u64,
    /// How long it was low.
    pub low_ns: u64,
}

/// One step of a search, as it was on the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Triplet {
    /// The first slot: the bit.
    pub bit: bool,
    /// The second slot: its complement.
    pub complement: bool,
    /// What the master wrote; none if it stopped there.
    pub written: Option<bool>,
}

/// The ROM code that the master chose in a search pass, as far as it went.
#[must_use]
pub fn chosen_rom(triplets: &[Triplet]) -> [u8; 8] {
    let mut bytes = [0; 8];
    for (place, triplet) in triplets.iter().take(64).enumerate() {
        bytes[place / 8] |= u8::from(triplet.written == Some(true)) << (place % 8);
    }
    bytes
}

/// How a search pass ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum SearchEnd {
    /// With a whole ROM code.
    Whole,
    /// No sensor answered any more: both reads were 1.
    Silent,
    /// The master broke it off.
    BrokenOff,
}

/// What stands before a function command.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Addressing {
    /// A ROM command, as it must be.
    RomCommand,
    /// A search pass: the datasheet requires a reset in between.
    Search,
    /// The reset, and no ROM command.
    ResetOnly,
    /// Another function, with no reset in between.
    Function,
}

/// A stretch of a transaction.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Phase {
    /// A ROM command.
    RomCommand {
        /// When it began.
        at_ns: u64,
        /// Its code.
        code: u8,
    },
    /// The triplets after a search command.
    Search {
        /// Each of them.
        triplets: Vec<Triplet>,
        /// How it ended.
        end: SearchEnd,
    },
    /// A ROM code that the master wrote.
    RomWritten {
        /// Eight bytes, or fewer if it was broken off.
        bytes: Bytes,
    },
    /// A ROM code that a sensor sent.
    RomAnswered {
        /// Eight bytes, or fewer if it was broken off.
        bytes: Bytes,
    },
    /// A function command.
    Function {
        /// When it began.
        at_ns: u64,
        /// When its last slot rose: a conversion begins there.
        done_ns: u64,
        /// Its code.
        code: u8,
        /// What stands before it.
        addressing: Addressing,
    },
    /// Bytes from the master.
    Written {
        /// The first of them.
        bytes: Bytes,
        /// How many more there were.
        more: u64,
    },
    /// Bytes from a sensor.
    Answered {
        /// The first of them.
        bytes: Bytes,
        /// How many more there were.
        more: u64,
    },
    /// All that follows the ROM code of a device that is no thermometer: whose bytes these are is not known here.
    Foreign {
        /// The first of them.
        bytes: Bytes,
        /// How many more there were.
        more: u64,
    },
    /// Read slots that ask for a state.
    Polled {
        /// How many read 0.
        zeros: u64,
        /// How many read 1.
        ones: u64,
        /// The first 1 after the last 0.
        done_ns: Option<u64>,
        /// When the last 0 began.
        busy_ns: Option<u64>,
    },
    /// Bytes of ones beyond what there is to read.
    ReadOn {
        /// How many.
        bytes: u64,
    },
}

/// A reset and all that follows up to the next one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Transaction {
    /// When the reset fell.
    pub at_ns: u64,
    /// When its last pulse rose.
    pub end_ns: u64,
    /// The speed of the reset.
    pub speed: Speed,
    /// The reset.
    pub reset: Reset,
    /// What follows it, in order.
    pub phases: Vec<Phase>,
    /// Bits of a last byte that is not whole.
    pub open_bits: u8,
    /// Whether the capture ended, or was damaged, inside it.
    pub broken_off: bool,
    /// Whether it had more phases than are kept.
    pub cut: bool,
}

impl Transaction {
    pub(super) fn new(at_ns: u64, end_ns: u64, speed: Speed, low_ns: u64) -> Self {
        Self {
            at_ns,
            end_ns,
            speed,
            reset: Reset { low_ns, presence: None, is_open: false },
            phases: Vec::new(),
            open_bits: 0,
            broken_off: false,
            cut: false,
        }
    }

    pub(super) fn push(&mut self, phase: Phase) {
        if self.phases.len() < PHASES {
            self.phases.push(phase);
        } else {
            self.cut = true;
        }
    }

    /// Adds a byte of the master's to the phase it belongs to.
    pub(super) fn written(&mut self, byte: u8) {
        if let Some(Phase::Written { bytes, more }) = self.phases.last_mut() {
            keep(bytes, more, byte);
        } else {
            self.push(Phase::Written { bytes: Bytes(vec![byte]), more: 0 });
        }
    }

    /// Adds a byte of a sensor's to the phase it belongs to.
    pub(super) fn answered(&mut self, byte: u8) {
        if let Some(Phase::Answered { bytes, more }) = self.phases.last_mut() {
            keep(bytes, more, byte);
        } else {
            self.push(Phase::Answered { bytes: Bytes(vec![byte]), more: 0 });
        }
    }

    /// Adds a byte after the ROM code of a device that is no thermometer.
    pub(super) fn foreign(&mut self, byte: u8) {
        if let Some(Phase::Foreign { bytes, more }) = self.phases.last_mut() {
            keep(bytes, more, byte);
        } else {
            self.push(Phase::Foreign { bytes: Bytes(vec![byte]), more: 0 });
        }
    }

    /// Counts a read slot that polls a state.
    pub(super) fn polled(&mut self, bit: bool, fell_ns: u64) {
        if !matches!(self.phases.last(), Some(Phase::Polled { .. })) {
            self.push(Phase::Polled { zeros: 0, ones: 0, done_ns: None, busy_ns: None });
        }
        let Some(Phase::Polled { zeros, ones, done_ns, busy_ns }) = self.phases.last_mut() else { return };
        if bit {
            *ones += 1;
            done_ns.get_or_insert(fell_ns);
        } else {
            *zeros += 1;
            *busy_ns = Some(fell_ns);
            *done_ns = None;
        }
    }

    /// Counts a byte of ones where no party sends: the released line reads 1.
    pub(super) fn read_on(&mut self) {
        if let Some(Phase::ReadOn { bytes }) = self.phases.last_mut() {
            *bytes += 1;
        } else {
            self.push(Phase::ReadOn { bytes: 1 });
        }
    }
}

fn keep(bytes: &mut Bytes, more: &mut u64, byte: u8) {
    if bytes.0.len() < BYTES {
        bytes.0.push(byte);
    } else {
        *more += 1;
    }
}
