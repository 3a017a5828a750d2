//! What tells a read 1 from a read 0 in a capture.
//!
//! In a read slot the line is low for as long as the master pulls it, or for as long as a sensor holds it, and a capture does not show
//! at what time the master looked. By the datasheet all is up again before 15 us in a 1 and low until then in a 0. On a line where one
//! of them does not keep to that, 15 us makes wrong bits of good slots, and a fault of one party would be told of the other. The CRCs
//! of what was read know better: of all lengths that may be the border, it is the one with which most of them are right.

use std::collections::BTreeSet;
use std::io::Read;

use slotwise::bus::RomCode;
use slotwise::thermometer::Scratchpad;

use super::capture::{Capture, Damage, Item};
use super::decode::{Decoder, Event, Phase, READ_SCRATCHPAD, Role, SearchEnd, Speed, Transaction, Triplet};
use super::pulse::{Lows, Pulse, Seen};

/// Read zeros at standard speed are low for at least this long: tRDV (DS18B20 datasheet (7/19), AC table).
pub const READ_ZERO_NS: u64 = 15_000;

/// So many pulses are looked at: a few hundred answers.
const PULSES: usize = 50_000;
/// No sensor holds a read slot for longer than tSLOT at most (DS18B20 datasheet (7/19), AC table).
const LONGEST_READ_NS: u64 = 120_000;
/// So many borders are tried beside that of the datasheet, the widest gaps first.
const BORDERS: usize = 6;

/// From how long a low on a read slot is taken for a 0 in this signal: [`READ_ZERO_NS`], unless more of what was read is intact with
/// another border.
pub fn read_zero_ns<R: Read>(capture: Capture<R>, signal: usize) -> u64 {
    let pulses = pulses(capture, signal);
    let by_the_book = Trial::of(&pulses, READ_ZERO_NS);
    if by_the_book.spoilt == 0 {
        return READ_ZERO_NS;
    }
    let mut best = (by_the_book.intact, READ_ZERO_NS);
    for border_ns in by_the_book.borders() {
        let intact = Trial::of(&pulses, border_ns).intact;
        if intact > best.0 {
            best = (intact, border_ns);
        }
    }
    best.1
}

/// The first pulses; none where edges may be missing.
fn pulses<R: Read>(capture: Capture<R>, signal: usize) -> Vec<Option<Pulse>> {
    let mut lows = Lows::default();
    let mut pulses = Vec::new();
    let mut see = |seen| {
        pulses.push(match seen {
            Seen::Pulse(pulse) => Some(pulse),
            Seen::Lost { .. } => None,
        });
        pulses.len()
    };
    let mut seen = 0;
    for item in capture {
        match item {
            Item::Change(change) if change.signal == signal => {
                lows.take(change.at_ns, change.level, &mut |next| seen = see(next));
            }
            Item::Change(_) => {}
            Item::Damage(Damage { at_ns, .. }) => {
                lows.lose(&mut |next| seen = see(next));
                seen = see(Seen::Lost { since_ns: at_ns, until_ns: at_ns });
            }
        }
        if seen >= PULSES {
            break;
        }
    }
    lows.lose(&mut |next| seen = see(next));
    pulses
}

/// Whether a search pass makes sense: the master wrote what the sensors agreed on, and they did agree now and then. None if it was
/// broken off, or if nobody took part from the beginning.
fn search(triplets: &[Triplet], end: SearchEnd) -> Option<bool> {
    match end {
        SearchEnd::BrokenOff => None,
        SearchEnd::Silent => (triplets.len() > 1).then_some(false),
        SearchEnd::Whole => {
            let mut agreed = triplets.iter().filter(|triplet| triplet.bit != triplet.complement).peekable();
            let did_agree = agreed.peek().is_some();
            Some(did_agree && agreed.all(|triplet| triplet.written == Some(triplet.bit)))
        }
    }
}

/// What comes of the pulses with one border.
#[derive(Debug, Default)]
struct Trial {
    /// Answers with a right CRC, and search passes that make sense.
    intact: u64,
    /// Answers with a wrong one or of nothing but zeros or ones, and search passes that make none.
    spoilt: u64,
    /// How long read slots were low.
    lows: BTreeSet<u64>,
}

impl Trial {
    fn of(pulses: &[Option<Pulse>], read_zero_ns: u64) -> Self {
        let mut trial = Self::default();
        let mut decoder = Decoder::new(read_zero_ns);
        for pulse in pulses {
            match pulse {
                Some(pulse) => decoder.pulse(*pulse, &mut |event| trial.take(&event)),
                None => decoder.lose(&mut |event| trial.take(&event)),
            }
        }
        let end_ns = pulses.iter().rev().flatten().next().map_or(0, |last| last.rose_ns);
        decoder.end(end_ns, &mut |event| trial.take(&event));
        trial
    }

    fn take(&mut self, event: &Event) {
        match event {
            Event::Slot(slot) if slot.role == Role::Read && slot.speed == Speed::Standard => {
                self.lows.insert(slot.pulse.low_ns());
            }
            Event::Transaction(transaction) if transaction.speed == Speed::Standard => self.answers(transaction),
            _ => {}
        }
    }

    fn answers(&mut self, transaction: &Transaction) {
        let mut function = None;
        for phase in &transaction.phases {
            // What is not whole has no CRC.
            let is_intact = match phase {
                Phase::Function { code, .. } => {
                    function = Some(*code);
                    None
                }
                Phase::RomAnswered { bytes } => {
                    <[u8; 8]>::try_from(bytes.0.as_slice()).ok().map(|bytes| RomCode::new(bytes).is_ok())
                }
                Phase::Answered { bytes, .. } if function == Some(READ_SCRATCHPAD) => {
                    <[u8; 9]>::try_from(bytes.0.as_slice()).ok().map(|bytes| Scratchpad::new(bytes).is_ok())
                }
                Phase::Search { triplets, end } => search(triplets, *end),
                _ => None,
            };
            match is_intact {
                Some(true) => self.intact += 1,
                Some(false) => self.spoilt += 1,
                None => {}
            }
        }
    }

    /// The middles of the widest gaps between lengths of read slots.
    fn borders(&self) -> Vec<u64> {
        let lows: Vec<u64> = self.lows.range(..=LONGEST_READ_NS).copied().collect();
        let mut gaps: Vec<(u64, u64)> = lows
            .windows(2)
            .filter_map(|pair| {
                let [one, next] = *pair else { return None };
                Some((next - one, one.midpoint(next)))
            })
            .collect();
        gaps.sort_unstable_by(|one, other| other.cmp(one));
        gaps.into_iter().take(BORDERS).map(|(_, middle)| middle).collect()
    }
}
