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
use super::decode::{
    Borders, Decoder, Event, OVERDRIVE_MATCH_ROM, OVERDRIVE_SKIP_ROM, Phase, READ_SCRATCHPAD, Role, SearchEnd, Speed,
    Transaction, Triplet,
};
use super::pulse::{Lows, Pulse, Seen};

/// So many pulses are looked at: a few hundred answers.
const PULSES: usize = 50_000;
/// So many borders are tried at each speed beside that of the datasheet: the widest gaps, and those nearest to it.
const WIDEST: usize = 6;
const NEAREST: usize = 6;

/// From how long a low on a read slot is taken for a 0 in this signal, at each speed: those of the datasheets, unless more of what was
/// read is intact with others.
pub fn borders<R: Read>(capture: Capture<R>, signal: usize) -> Borders {
    let pulses = pulses(capture, signal);
    let mut best = Borders::default();
    let by_the_book = Trial::of(&pulses, best);
    let mut intact = by_the_book.intact;
    for speed in [Speed::Standard, Speed::Overdrive] {
        if by_the_book.spoilt.contains(&speed) {
            let so_far = best;
            for border_ns in by_the_book.candidates(speed) {
                let borders = so_far.with(speed, border_ns);
                let trial = Trial::of(&pulses, borders);
                if trial.intact > intact {
                    (intact, best) = (trial.intact, borders);
                }
            }
        }
    }
    best
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
    /// At which speeds there were answers with a wrong one or of nothing but zeros or ones, or search passes that make none.
    spoilt: BTreeSet<Speed>,
    /// How long read slots were low.
    lows: BTreeSet<(Speed, u64)>,
}

impl Trial {
    fn of(pulses: &[Option<Pulse>], borders: Borders) -> Self {
        let mut trial = Self::default();
        let mut decoder = Decoder::new(borders);
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
            Event::Slot(slot) if slot.role == Role::Read => {
                self.lows.insert((slot.speed, slot.pulse.low_ns()));
            }
            Event::Transaction(transaction) => self.answers(transaction),
            _ => {}
        }
    }

    fn answers(&mut self, transaction: &Transaction) {
        let mut function = None;
        let mut speed = transaction.speed;
        for phase in &transaction.phases {
            // What is not whole has no CRC.
            let is_intact = match phase {
                Phase::RomCommand { code: OVERDRIVE_SKIP_ROM | OVERDRIVE_MATCH_ROM, .. } => {
                    speed = Speed::Overdrive;
                    None
                }
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
                Some(false) => drop(self.spoilt.insert(speed)),
                None => {}
            }
        }
    }

    /// The middles of the widest gaps between lengths of read slots, and of those nearest to the border of the datasheet.
    fn candidates(&self, speed: Speed) -> BTreeSet<u64> {
        let lows: Vec<u64> =
            self.lows.range((speed, 0)..=(speed, longest_read_ns(speed))).map(|(_, low)| *low).collect();
        let mut gaps: Vec<(u64, u64)> = lows
            .windows(2)
            .filter_map(|pair| {
                let [one, next] = *pair else { return None };
                Some((next - one, one.midpoint(next)))
            })
            .collect();
        gaps.sort_unstable_by(|one, other| other.cmp(one));
        let widest: Vec<u64> = gaps.iter().take(WIDEST).map(|(_, middle)| *middle).collect();
        let by_the_book = Borders::default().of(speed);
        gaps.sort_unstable_by_key(|(_, middle)| middle.abs_diff(by_the_book));
        widest.into_iter().chain(gaps.into_iter().take(NEAREST).map(|(_, middle)| middle)).collect()
    }
}

/// No sensor holds a read slot for longer than tSLOT at most (DS18B20 datasheet (7/19), AC table; DS1996 datasheet, overdrive limits).
const fn longest_read_ns(speed: Speed) -> u64 {
    match speed {
        Speed::Standard => 120_000,
        Speed::Overdrive => 16_000,
    }
}
