//! What separates a read 1 from a read 0 in a capture.
//!
//! In a read slot the line is low for as long as the master pulls it, or for as long as a sensor holds it, and a capture does not show
//! at what time the master samples. By the datasheet the line is up again before 15 us in a 1 and low until then in a 0. Where one of
//! them breaks that limit, a border of 15 us makes wrong bits of good slots, and the report blames the wrong party. The CRCs of what
//! was read decide: of all lengths that may be the border, it is the one with which most of them are right.

use super::capture::{Damage, Item};
use super::decode::{
    Borders, Decoder, Event, Habits, LowRanges, OVERDRIVE_MATCH_ROM, OVERDRIVE_SKIP_ROM, Phase, READ_SCRATCHPAD, Role,
    SearchEnd, Slot, Speed, Transaction, Triplet,
};
use super::pulse::{Lows, Pulse, Seen};
use super::rom::Rom;
use super::scratchpad::Scratchpad;
use std::collections::BTreeSet;

/// Pulses that are read to find the border: a few hundred answers.
const PULSES: usize = 50_000;
/// So many borders are tried at each speed beside that of the datasheet: the widest gaps, and those nearest to it.
const WIDEST: usize = 6;
const NEAREST: usize = 6;
/// Slots of one transaction that are read: polls are all alike.
const SLOTS: usize = 2_000;
/// Lows may be longer or shorter by so much than all that were seen, beside what sampling does (chosen).
const SLACK_NS: u64 = 1_000;
/// Slots that follow each other sooner than tSLOT and tREC allow (DS18B20 datasheet (7/19), AC table), with room for the steps of a
/// capture; one in so many is no accident (chosen).
const TOO_NEAR_NS: u64 = 59_000;
const HASTY: u64 = 5;

/// From how long a low on a read slot is taken for a 0 in this signal, at each speed: those of the datasheets, unless more of what was
/// read is intact with others.
pub fn learn(items: impl Iterator<Item = Item>, signal: usize, step_ns: u64) -> Learnt {
    let pulses = pulses(items, signal);
    let mut best = Borders::default();
    let by_the_book = Trial::of(&pulses, best);
    let mut intact = by_the_book.intact;
    for speed in [Speed::Standard, Speed::Overdrive] {
        let is_close = by_the_book.is_close(speed, step_ns);
        if by_the_book.spoilt.contains(&speed) || is_close {
            let so_far = best;
            let mut width_ns = by_the_book.width_ns(speed, best.of(speed));
            for border_ns in by_the_book.candidates(speed) {
                let borders = so_far.with(speed, border_ns);
                let trial = Trial::of(&pulses, borders);
                // Where as much makes sense, what is further from all lows is surer.
                let new_ns = by_the_book.width_ns(speed, border_ns);
                if trial.intact > intact || is_close && trial.intact == intact && new_ns > 2 * width_ns {
                    (intact, best, width_ns) = (trial.intact, borders, new_ns);
                }
            }
        }
    }
    let best_trial = Trial::of(&pulses, best);
    Learnt { borders: best, habits: best_trial.habits(step_ns), intact }
}

/// What was learnt of a signal from its beginning.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Learnt {
    /// The borders between its read ones and zeros.
    pub borders: Borders,
    /// How long its slots are.
    pub habits: Habits,
    /// How many answers and searches make sense.
    pub intact: u64,
}

/// The first pulses; none where edges may be missing.
fn pulses(items: impl Iterator<Item = Item>, signal: usize) -> Vec<Option<Pulse>> {
    let mut lows = Lows::default();
    let mut pulses = Vec::new();
    let mut see = |seen| {
        pulses.push(match seen {
            Seen::Pulse(pulse) => Some(pulse),
            Seen::Opening(_) | Seen::Lost { .. } => None,
        });
        pulses.len()
    };
    let mut seen = 0;
    for item in items {
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
/// broken off, or if no sensor took part from the beginning.
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
    /// Slots of the transaction under way.
    slots: Vec<(Role, bool, u64)>,
    /// Those of transactions that make sense: write 1, write 0, read 1, read 0.
    lengths: [Vec<u64>; 4],
    /// From falling edge to falling edge of slots: how many, and how many of them below tSLOT and tREC.
    steps: (u64, u64),
    fell_ns: Option<u64>,
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
                self.slot(slot);
            }
            Event::Slot(slot) => self.slot(slot),
            Event::Transaction(transaction) => {
                let before = self.intact;
                self.answers(transaction);
                let slots = std::mem::take(&mut self.slots);
                if self.intact > before {
                    for (role, bit, low_ns) in slots {
                        match (role, bit) {
                            (Role::Write, true) => self.lengths[0].push(low_ns),
                            (Role::Write, false) => self.lengths[1].push(low_ns),
                            (Role::Read, true) => self.lengths[2].push(low_ns),
                            (Role::Read, false) => self.lengths[3].push(low_ns),
                            (Role::Unknown, _) => {}
                        }
                    }
                }
            }
            Event::Reset { .. } | Event::Lost => self.fell_ns = None,
            _ => {}
        }
    }

    fn slot(&mut self, slot: &Slot) {
        let fell_ns = slot.pulse.fell_ns;
        if let Some(before_ns) = self.fell_ns.replace(fell_ns)
            && slot.speed == Speed::Standard
        {
            self.steps.0 += 1;
            self.steps.1 += u64::from(fell_ns.saturating_sub(before_ns) < TOO_NEAR_NS);
        }
        if slot.speed == Speed::Standard && self.slots.len() < SLOTS {
            self.slots.push((slot.role, slot.bit, slot.pulse.low_ns()));
        }
    }

    fn habits(mut self, step_ns: u64) -> Habits {
        let [write_one, write_zero, read_one, read_zero] = &mut self.lengths;
        Habits {
            write_one: LowRanges::of(write_one, 2 * step_ns + SLACK_NS),
            write_zero: LowRanges::of(write_zero, 2 * step_ns + SLACK_NS),
            read_one: LowRanges::of(read_one, 2 * step_ns + SLACK_NS),
            read_zero: LowRanges::of(read_zero, 2 * step_ns + SLACK_NS),
            is_hasty: self.steps.1 * HASTY > self.steps.0,
            slack_ns: 2 * step_ns + SLACK_NS,
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
                Phase::RomAnswered { bytes } => (bytes.0.len() == 8).then(|| Rom::is_intact(&bytes.0)),
                Phase::Answered { bytes, .. } if function == Some(READ_SCRATCHPAD) => {
                    (bytes.0.len() == 9).then(|| Scratchpad::is_intact(&bytes.0))
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

    /// Whether read slots are so near to the border of the datasheet that a step decides.
    fn is_close(&self, speed: Speed, step_ns: u64) -> bool {
        step_ns > 0 && self.width_ns(speed, Borders::default().of(speed)) <= 2 * step_ns
    }

    /// How wide the gap is, between read slots, in which a border lies.
    fn width_ns(&self, speed: Speed, border_ns: u64) -> u64 {
        let below = self.lows.range((speed, 0)..(speed, border_ns)).next_back().map_or(0, |(_, low)| *low);
        let above = self.lows.range((speed, border_ns)..=(speed, longest_read_ns(speed))).next();
        let above = above.map_or(longest_read_ns(speed), |(_, low)| *low);
        2 * (border_ns - below).min(above.saturating_sub(border_ns))
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
