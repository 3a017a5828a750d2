//! From edges to bytes.

use core::num::NonZeroU32;

use super::{BEGIN, ESCAPE, GAP, LAST_OF_TWO, LONG, ONE_BYTE, QUIET, TWO_BYTES};

/// Where the bytes go: a buffer of a fixed size that another empties.
pub trait Room {
    /// How many bytes it takes now.
    fn free(&self) -> usize;
    /// Takes a byte; there is room for it.
    fn push(&mut self, byte: u8);
}

/// A number as groups of seven bits has at most this many bytes.
const MOST_NUMBER: usize = 10;
/// The longest record of an edge.
const MOST_EDGE: usize = 2 + MOST_NUMBER;
/// The longest record of lost edges.
const MOST_GAP: usize = 2 + 4 * MOST_NUMBER;
/// Room that must be there before the stream goes on after a loss: the gap, and some edges behind it.
const ROOM_AFTER_LOSS: usize = MOST_GAP + 64;

/// What an encoder has lost so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Lost {
    /// Edges.
    pub edges: u64,
    /// Stretches without room.
    pub gaps: u32,
}

/// Edges that did not fit.
#[derive(Clone, Copy, Debug)]
struct Gap {
    /// Units from the last record to the first lost edge.
    until_first: u64,
    /// Units from there to the last lost edge.
    first_to_last: u64,
    edges: u64,
    high: bool,
}

/// Turns edges into bytes. Times are values of a counter that wraps; it must be called before the counter has gone round once,
/// and the buffer emptied within that time.
#[derive(Clone, Debug)]
pub struct Encoder {
    unit: NonZeroU32,
    /// The last time that was written or lost, rounded down to a unit.
    last: u32,
    gap: Option<Gap>,
    lost: Lost,
}

impl Encoder {
    /// An encoder with `unit` ticks in a unit; 0 is taken as 1.
    #[must_use]
    pub const fn new(unit: u32) -> Self {
        let unit = match NonZeroU32::new(unit) {
            Some(unit) => unit,
            None => NonZeroU32::MIN,
        };
        Self { unit, last: 0, gap: None, lost: Lost { edges: 0, gaps: 0 } }
    }

    /// The stream begins; true if there was room.
    pub fn begin(&mut self, now: u32, high: bool, room: &mut impl Room) -> bool {
        self.last = now;
        self.gap = None;
        if room.free() < 3 {
            return false;
        }
        [ESCAPE, BEGIN, u8::from(high)].into_iter().for_each(|byte| room.push(byte));
        true
    }

    /// What was lost so far.
    #[must_use]
    pub const fn lost(&self) -> Lost {
        self.lost
    }

    /// Units since the last time, which moves there.
    fn advance(&mut self, now: u32) -> u64 {
        let units = now.wrapping_sub(self.last) / self.unit;
        self.last = self.last.wrapping_add(units.wrapping_mul(self.unit.get()));
        u64::from(units)
    }

    /// An edge, after which the line is `high`.
    pub fn edge(&mut self, now: u32, high: bool, room: &mut impl Room) {
        let units = self.advance(now);
        if self.gap.is_none() && room.free() >= MOST_EDGE {
            if units <= ONE_BYTE {
                return room.push(units as u8);
            }
            return write_edge(units, room);
        }
        if let Some(gap) = &mut self.gap {
            if room.free() >= ROOM_AFTER_LOSS {
                write_gap(*gap, room);
                self.gap = None;
                return write_edge(units, room);
            }
            gap.first_to_last = gap.first_to_last.saturating_add(units);
            gap.edges = gap.edges.saturating_add(1);
            gap.high = high;
        } else {
            self.gap = Some(Gap { until_first: units, first_to_last: 0, edges: 1, high });
            self.lost.gaps = self.lost.gaps.saturating_add(1);
        }
        self.lost.edges = self.lost.edges.saturating_add(1);
    }

    /// The line was not sampled between two times: a gap of no known edges, after which the line is `high`.
    pub fn unseen(&mut self, from: u32, to: u32, high: bool, room: &mut impl Room) {
        let (until_first, first_to_last) = (self.advance(from), self.advance(to));
        let gap = match self.gap.take() {
            Some(gap) => {
                let more = until_first.saturating_add(first_to_last);
                Gap { first_to_last: gap.first_to_last.saturating_add(more), high, ..gap }
            }
            None => Gap { until_first, first_to_last, edges: 0, high },
        };
        if room.free() < MOST_GAP {
            self.gap = Some(gap);
        } else {
            write_gap(gap, room);
        }
    }

    /// The line has not changed until now. To be called well before the counter has gone round once. Without room the
    /// next record has the time.
    pub fn quiet(&mut self, now: u32, room: &mut impl Room) {
        if let Some(gap) = &mut self.gap {
            if room.free() < ROOM_AFTER_LOSS {
                return;
            }
            write_gap(*gap, room);
            self.gap = None;
        } else if room.free() < MOST_EDGE {
            return;
        }
        let units = self.advance(now);
        record(QUIET, units, room);
    }
}

fn write_edge(units: u64, room: &mut impl Room) {
    match units {
        0..=ONE_BYTE => room.push(units as u8),
        248..=LAST_OF_TWO => {
            let [low, high, ..] = (units - ONE_BYTE - 1).to_le_bytes();
            room.push(TWO_BYTES + high);
            room.push(low);
        }
        _ => record(LONG, units, room),
    }
}

fn record(kind: u8, number: u64, room: &mut impl Room) {
    room.push(ESCAPE);
    room.push(kind);
    write_number(number, room);
}

fn write_gap(gap: Gap, room: &mut impl Room) {
    record(GAP, gap.until_first, room);
    write_number(gap.first_to_last, room);
    write_number(gap.edges, room);
    write_number(u64::from(gap.high), room);
}

fn write_number(mut number: u64, room: &mut impl Room) {
    loop {
        let group = (number & 0x7F) as u8;
        number >>= 7;
        if number == 0 {
            return room.push(group);
        }
        room.push(group | 0x80);
    }
}
