//! What a reading of a transaction leaves to be explained, as a number.
//!
//! The weights are chosen: what a CRC or the grammar of the commands contradicts weighs more than all times together, a time beyond its
//! limit less than a pulse from nowhere, and two of them more.

use super::super::{
    Addressing, CONVERT_T, Event, Habits, Phase, READ_SCRATCHPAD, Role, SearchEnd, Slot, Speed, Transaction, Triplet,
    WRITE_SCRATCHPAD, chosen_rom, function_name, rom_command_name,
};
use crate::lengths::ZERO_NS;
use crate::pulse::Pulse;
use crate::rom::Rom;
use crate::scratchpad::Scratchpad;
use slotwise_limits::figures as f;

/// What a reading leaves to be explained.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Cost {
    /// What a CRC or the grammar contradicts.
    pub(super) sense: u64,
    /// Times beyond their limits, pulses that are like no other.
    pub(super) times: u64,
    /// How many slots follow another one too soon.
    pub(super) too_near: u64,
}

impl Cost {
    pub(super) const fn sum(self) -> u64 {
        self.sense + self.times
    }
}

/// Whether small hints count: slots out of their rhythm, lows unlike all others. They only say which of two readings is the better one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Hints {
    /// They do.
    Weighed,
    /// They do not.
    LeftOut,
}

/// What is so heavy makes no sense.
pub(super) const NONSENSE: u64 = 60;

const LIMIT: u64 = 10;
const UNLIKE: u64 = 20;
const BIT: u64 = 20;
const BIT_MEANT: u64 = 4;
/// A slot that follows so soon belongs to those before (chosen: twice the longest slot).
const GOES_ON_NS: u64 = 2 * f::SLOT_MOST_NS;
const STRAY: u64 = 15;
const FEW: u64 = 4;
/// Polls that are measured for their rhythm.
const POLLS: usize = 512;

/// The cost of what was decoded after a reset. A time counts as beyond a limit if it is so whatever lies between two samples.
pub(super) fn cost(events: &[Event], habits: &Habits, step_ns: u64, hints: Hints) -> Cost {
    let mut cost = Cost::default();
    let (mut lows, mut unlike, mut odd, mut strays) = (0, 0, 0, 0);
    let mut apart = Vec::new();
    let mut last: Option<Pulse> = None;
    let mut was_one = false;
    // Slots since the master wrote the last bit.
    let mut polls: Vec<Pulse> = Vec::new();
    for (place, event) in events.iter().enumerate() {
        match event {
            Event::Slot(slot) if slot.speed == Speed::Standard => {
                if let Some(last) = last {
                    let apart_ns = slot.pulse.fell_ns.saturating_sub(last.fell_ns);
                    let high_ns = slot.pulse.fell_ns.saturating_sub(last.rose_ns);
                    if hints == Hints::Weighed {
                        apart.push(apart_ns);
                    }
                    cost.too_near += u64::from(apart_ns + step_ns < f::EDGE_TO_EDGE_LEAST_NS)
                        + u64::from(high_ns + step_ns < f::RECOVERY_LEAST_NS);
                }
                lows += u64::from(is_beyond(slot, step_ns));
                if hints == Hints::Weighed {
                    odd += u64::from(!habits.is_like_a_slot(slot.pulse.low_ns()));
                }
                match slot.role {
                    Role::Unknown => unlike += u64::from(!habits.is_like_a_slot(slot.pulse.low_ns())),
                    Role::Read if polls.len() < POLLS => polls.push(slot.pulse),
                    Role::Read => {}
                    Role::Write => polls.clear(),
                }
                last = Some(slot.pulse);
            }
            Event::Presence { pulse, .. } => {
                lows += u64::from(pulse.low_ns() + step_ns < f::PRESENCE_LOW_LEAST_NS);
                last = Some(*pulse);
            }
            Event::Stray(pulse) => {
                strays += 1;
                last = Some(*pulse);
            }
            Event::Transaction(transaction) => {
                cost.sense += sense(
                    transaction,
                    &mut was_one,
                    bit_cost(events.get(..place).unwrap_or_default(), transaction.open_bits),
                );
                if matches!(transaction.phases.last(), Some(Phase::Polled { .. })) {
                    unlike += polls.iter().filter(|poll| !habits.is_like_a_poll(poll.low_ns())).count() as u64;
                    cost.times += rhythm(&polls);
                }
            }
            _ => {}
        }
    }
    // What happens again and again is no accident: it counts as often as a few.
    cost.times += LIMIT * (lows.min(FEW) + cost.too_near.min(2 * FEW)) + UNLIKE * unlike.min(FEW) + STRAY * strays;
    if hints == Hints::Weighed {
        cost.times += unsteady(&mut apart) + 2 * odd.min(FEW);
    }
    cost
}

/// Whether the low of a slot is beyond its limits.
const fn is_beyond(slot: &Slot, step_ns: u64) -> bool {
    let low_ns = slot.pulse.low_ns();
    let (least_ns, most_ns) = match (slot.role, slot.bit) {
        (Role::Write, false) => (f::WRITE_ZERO_LOW_LEAST_NS, f::WRITE_ZERO_LOW_MOST_NS),
        (Role::Read, false) => (f::READ_VALID_NS, f::READ_ZERO_LOW_MOST_NS),
        (Role::Unknown, _) if low_ns >= ZERO_NS => (f::WRITE_ZERO_LOW_LEAST_NS, f::WRITE_ZERO_LOW_MOST_NS),
        (Role::Write | Role::Read, true) | (Role::Unknown, _) => (f::WRITE_ONE_LOW_LEAST_NS, f::WRITE_ONE_LOW_MOST_NS),
    };
    low_ns + step_ns < least_ns || low_ns > most_ns + step_ns
}

/// Polls that come when none is due, or do not come when one is, if there is a rhythm in them.
fn rhythm(polls: &[Pulse]) -> u64 {
    let mut apart: Vec<u64> = polls.windows(2).map(|pair| pair[1].fell_ns.saturating_sub(pair[0].fell_ns)).collect();
    if apart.len() < 4 {
        return 0;
    }
    let in_order = apart.clone();
    apart.sort_unstable();
    let usual_ns = apart[apart.len() / 2];
    let is_off = |ns: &&u64| **ns * 5 < usual_ns * 4 || **ns * 4 > usual_ns * 5;
    let off = in_order.iter().filter(is_off).count();
    if off * 4 > in_order.len().max(8) { 0 } else { 30 * off.min(4) as u64 }
}

/// Slots that come sooner or later than most, where most come in a rhythm: a hint of where a pulse is one too many.
fn unsteady(apart: &mut [u64]) -> u64 {
    if apart.len() < 16 {
        return 0;
    }
    apart.sort_unstable();
    let usual_ns = apart[apart.len() / 2];
    let off = apart.iter().filter(|ns| **ns * 8 < usual_ns * 7 || **ns * 7 > usual_ns * 8).count();
    if off * 4 > apart.len() { 0 } else { 2 * off.min(5) as u64 }
}

/// What a bit that is left at the end costs. A master that breaks off in a command does it slot by slot.
fn bit_cost(events: &[Event], open_bits: u8) -> u64 {
    let Some(first_open) = usize::from(open_bits).checked_sub(1) else { return BIT };
    let mut slots =
        events.iter().rev().filter_map(|event| if let Event::Slot(slot) = event { Some(slot) } else { None });
    let Some(first) = slots.nth(first_open).filter(|first| first.role != Role::Unknown) else { return BIT };
    let goes_on = match slots.next() {
        Some(before) => first.pulse.fell_ns.saturating_sub(before.pulse.fell_ns) <= GOES_ON_NS,
        None => open_bits > 1,
    };
    if goes_on { BIT_MEANT } else { BIT }
}

/// What the grammar of a transaction and its CRCs leave to be explained.
fn sense(transaction: &Transaction, was_one: &mut bool, bit_cost: u64) -> u64 {
    let mut sum = 0;
    let mut function = None;
    let last = transaction.phases.len().saturating_sub(1);
    for (place, phase) in transaction.phases.iter().enumerate() {
        // What the capture cuts off is not whole.
        let is_cut = transaction.broken_off && place == last;
        sum += match phase {
            Phase::RomCommand { code, .. } if rom_command_name(*code).is_none() => 80,
            Phase::RomWritten { bytes } if bytes.0.len() < 8 => {
                if is_cut {
                    0
                } else {
                    60
                }
            }
            Phase::RomWritten { bytes } if !Rom::is_intact(&bytes.0) => 100,
            Phase::RomAnswered { bytes } if bytes.0.len() < 8 => partial(transaction, is_cut),
            Phase::RomAnswered { bytes } if !Rom::is_intact(&bytes.0) => 100,
            Phase::Search { triplets, end } => search(triplets, *end, is_cut),
            Phase::Function { code, addressing, .. } => {
                function = Some(*code);
                let is_unknown = function_name(*code).is_none();
                // A command that is known does not come about by chance, be it where sensors ignore it.
                let is_ignored = matches!(addressing, Addressing::ResetOnly | Addressing::Function);
                (if is_unknown { 80 } else { 0 }) + if is_ignored { 7 } else { 0 }
            }
            Phase::Answered { bytes, .. } if function == Some(READ_SCRATCHPAD) => {
                if bytes.0.len() < 9 {
                    partial(transaction, is_cut)
                } else if bytes.0 == [0xFF; 9] {
                    30
                } else if Scratchpad::is_intact(&bytes.0) {
                    0
                } else {
                    100
                }
            }
            Phase::Written { bytes, .. } if function == Some(WRITE_SCRATCHPAD) => {
                40 * u64::from(bytes.0.len() < 2 && !is_cut)
            }
            Phase::Written { .. } => 80,
            // Once it is over, no sensor is busy again.
            Phase::Polled { ones, zeros, done_ns, .. } if function == Some(CONVERT_T) => {
                *was_one = *ones > 0 && *zeros > 0 && done_ns.is_none();
                if *was_one { 2 * UNLIKE } else { 0 }
            }
            _ => 0,
        };
    }
    let may_end = matches!(
        transaction.phases.last(),
        Some(Phase::Answered { .. } | Phase::RomAnswered { .. } | Phase::Function { .. })
    ) && transaction.open_bits > 0
        && is_short(transaction);
    if !transaction.broken_off && !may_end {
        sum += bit_cost * u64::from(transaction.open_bits);
    }
    sum
}

/// An answer that is not read to its end: at a byte it may be meant, inside of one hardly.
const fn partial(transaction: &Transaction, is_cut: bool) -> u64 {
    match (is_cut, transaction.open_bits) {
        (true, _) => 0,
        (false, 0) => 20,
        (false, _) => 80,
    }
}

/// Whether the master may have stopped in the middle of what it was reading.
fn is_short(transaction: &Transaction) -> bool {
    match transaction.phases.last() {
        Some(Phase::Answered { bytes, .. }) => bytes.0.len() < 9,
        Some(Phase::RomAnswered { bytes }) => bytes.0.len() < 8,
        Some(Phase::Function { code, .. }) => *code == READ_SCRATCHPAD,
        _ => false,
    }
}

fn search(triplets: &[Triplet], end: SearchEnd, is_cut: bool) -> u64 {
    let agreed = triplets.iter().filter(|of| of.bit != of.complement);
    let against = agreed.filter(|of| of.written.is_some_and(|written| written != of.bit)).count();
    let ending = match end {
        SearchEnd::Whole if Rom::is_intact(&chosen_rom(triplets)) => 0,
        SearchEnd::Whole => 100,
        SearchEnd::Silent if triplets.len() == 1 => 0,
        SearchEnd::Silent => 60,
        SearchEnd::BrokenOff if is_cut => 0,
        SearchEnd::BrokenOff => 60,
    };
    ending + if against > 0 { 80 } else { 0 }
}
