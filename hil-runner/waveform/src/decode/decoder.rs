//! The decoder: from pulse to pulse it knows what is due.

use super::bits::{Bits, Whole};
use super::command as code;
use super::event::{Event, Role, Slot};
use super::frame::{Framer, Kind};
use super::grammar::{Part, parts};
use super::opening::{Opening, late, may_open, opening};
use super::{Addressing, Borders, Bytes, Phase, Presence, SearchEnd, Speed, Transaction, Triplet, chosen_rom};
use crate::lengths::{RESET_NS, SHORT_NS};
use crate::pulse::Pulse;
use crate::rom::Rom;
use slotwise::thermometer::Family;

/// What is due.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Due {
    RomCommand,
    Search {
        triplets: Vec<Triplet>,
        reads: Vec<bool>,
    },
    RomWritten,
    RomAnswered,
    Function(Addressing),
    Data {
        parts: &'static [Part],
        left: u8,
    },
    /// No part that the datasheet defines.
    Nothing,
    /// A device that is no thermometer is addressed: what its commands are is not known here.
    Foreign,
}

/// Puts pulses together to transactions.
#[derive(Clone, Debug)]
pub struct Decoder {
    framer: Framer,
    speed: Speed,
    /// What may be a reset, and what followed it so far.
    held: Vec<Pulse>,
    transaction: Option<Transaction>,
    due: Due,
    bits: Bits,
    rom: Vec<u8>,
    /// Whether all sensors seen so far are without a configuration register. None: none was seen.
    all_without_configuration: Option<bool>,
    /// Family of the sensor that is addressed, if it is one.
    addressed: Option<Family>,
    borders: Borders,
    /// When a low was over that was longer than any reset, until the next reset.
    low_until_ns: Option<u64>,
    /// Whether the capture is over, so that no edges are missing.
    is_at_end: bool,
    /// Slots, by when they fell, whose bit is not what their length says.
    forced: Vec<(u64, bool)>,
}

/// What is not continued for so long, at the end of a capture, was left where it is (chosen).
const SILENT_NS: u64 = 10_000_000;

/// Steps of a search.
const TRIPLETS: usize = 64;

impl Decoder {
    /// Nothing is known of the line yet but the borders between its read ones and zeros.
    #[must_use]
    pub fn new(borders: Borders) -> Self {
        Self {
            framer: Framer::default(),
            speed: Speed::Standard,
            held: Vec::new(),
            transaction: None,
            due: Due::RomCommand,
            bits: Bits::default(),
            rom: Vec::new(),
            all_without_configuration: None,
            addressed: None,
            borders,
            is_at_end: false,
            low_until_ns: None,
            forced: Vec::new(),
        }
    }

    /// The slot that falls then carries this bit, and belongs to what is under way, whatever its length says.
    pub(super) fn force(&mut self, fell_ns: u64, bit: bool) {
        self.forced.push((fell_ns, bit));
    }

    /// The line was low from the beginning, or from where edges may be missing: perhaps a reset, of which the fall was not seen.
    pub fn opening(&mut self, pulse: Pulse, emit: &mut impl FnMut(Event)) {
        if (RESET_NS..SHORT_NS).contains(&pulse.low_ns()) {
            self.framer.reset_at(pulse);
            self.begin(pulse, Speed::Standard, emit);
            emit(Event::Opening(pulse));
        }
    }

    /// The transaction under way is over, by a reset that was not taken yet.
    pub(super) fn conclude(&mut self, emit: &mut impl FnMut(Event)) {
        self.settle(true, emit);
        self.finish(emit);
    }

    /// The speed of what is under way.
    pub(super) const fn speed(&self) -> Speed {
        self.speed
    }

    /// Takes the next pulse, and reports what follows from it.
    pub fn pulse(&mut self, pulse: Pulse, emit: &mut impl FnMut(Event)) {
        if self.held.is_empty() && !self.may_open(pulse) {
            self.handle(pulse, emit);
            return;
        }
        self.held.push(pulse);
        self.settle(false, emit);
    }

    fn may_open(&self, pulse: Pulse) -> bool {
        may_open(pulse, self.transaction.is_some()) && !self.framer.is_answer(pulse)
            || self.framer.may_be_late(pulse, self.speed).is_some()
    }

    /// Takes the pulses that were held back, as far as they are understood; all of them if no more follow.
    fn settle(&mut self, is_all: bool, emit: &mut impl FnMut(Event)) {
        while let Some(first) = self.held.first().copied() {
            let opening = match self.framer.may_be_late(first, self.speed) {
                Some(released_ns) => late(&self.held, released_ns, self.speed),
                None if self.may_open(first) => opening(&self.held, self.transaction.is_some()),
                None => Opening::None,
            };
            match opening {
                Opening::Open if !is_all => return,
                Opening::Fast | Opening::Short => {
                    let speed = if opening == Opening::Fast { Speed::Overdrive } else { Speed::Standard };
                    self.framer.reset_at(first);
                    self.reset(first, speed, emit);
                }
                Opening::Late if self.framer.answers(first, self.speed) => self.presence(first, emit),
                Opening::Late => emit(Event::Stray(first)),
                Opening::Open | Opening::None => self.handle(first, emit),
            }
            self.held.remove(0);
        }
    }

    fn handle(&mut self, pulse: Pulse, emit: &mut impl FnMut(Event)) {
        match self.framer.classify(pulse, self.speed) {
            Kind::Reset(speed) => self.reset(pulse, speed, emit),
            Kind::Presence => self.presence(pulse, emit),
            Kind::Slot => self.slot(pulse, emit),
            Kind::Stray => emit(Event::Stray(pulse)),
            Kind::Low => {
                // What it interrupts is no fault of its own.
                self.finish_broken(emit);
                self.speed = Speed::Standard;
                self.low_until_ns = Some(pulse.rose_ns);
                emit(Event::Low(pulse));
            }
        }
    }

    /// Edges may be missing from here on: what is under way is given up.
    pub fn lose(&mut self, emit: &mut impl FnMut(Event)) {
        self.settle(true, emit);
        self.finish_broken(emit);
        self.framer.lose();
        // A change of speed may be among them.
        self.speed = Speed::Standard;
        emit(Event::Lost);
    }

    /// The capture is over, at a time.
    pub fn end(&mut self, at_ns: u64, emit: &mut impl FnMut(Event)) {
        self.settle(true, emit);
        // Whether anything of the last transaction was still to come is not known, unless it is in the middle of something.
        let may_be_answered = self.framer.may_be_answered(at_ns, self.speed);
        let is_between = self.bits.open() > 0 && self.due != Due::Foreign
            || match &self.due {
                Due::Search { .. } | Due::RomWritten | Due::RomAnswered => true,
                // Read ROM is of use alone.
                Due::Function(Addressing::RomCommand) => !self
                    .transaction
                    .as_ref()
                    .is_some_and(|of| matches!(of.phases.last(), Some(Phase::RomAnswered { .. }))),
                Due::Data { parts, left } => {
                    matches!(parts.first(), Some(Part::Written(_) | Part::Answered(_))) && *left > 0
                }
                Due::RomCommand | Due::Function(_) | Due::Nothing | Due::Foreign => false,
            };
        // A master that has been silent for long is not in the middle of anything.
        let is_silent = self.transaction.as_ref().is_some_and(|of| at_ns.saturating_sub(of.end_ns) > SILENT_NS);
        if let Some(transaction) = &mut self.transaction {
            transaction.reset.is_open = may_be_answered;
        }
        self.is_at_end = true;
        if may_be_answered || is_between && !is_silent {
            self.finish_broken(emit);
        } else {
            self.finish(emit);
        }
    }

    fn finish_broken(&mut self, emit: &mut impl FnMut(Event)) {
        let has_bits = self.bits.open() > 0;
        if let Some(transaction) = &mut self.transaction {
            transaction.broken_off = true;
            // Where edges are missing right after a reset, its answer may be among them.
            let has_slots = has_bits || !transaction.phases.is_empty() || transaction.reset.presence.is_some();
            transaction.reset.is_open |= !self.is_at_end && !has_slots;
        }
        self.finish(emit);
    }

    fn finish(&mut self, emit: &mut impl FnMut(Event)) {
        self.close_rom(SearchEnd::BrokenOff);
        if let Some(mut transaction) = self.transaction.take() {
            transaction.open_bits = self.bits.open();
            emit(Event::Transaction(Box::new(transaction)));
        }
        self.bits = Bits::default();
        self.due = Due::RomCommand;
    }

    fn reset(&mut self, pulse: Pulse, speed: Speed, emit: &mut impl FnMut(Event)) {
        self.begin(pulse, speed, emit);
        emit(Event::Reset { pulse, speed });
    }

    fn begin(&mut self, pulse: Pulse, speed: Speed, emit: &mut impl FnMut(Event)) {
        self.finish(emit);
        self.forced.clear();
        self.low_until_ns = None;
        self.speed = speed;
        self.addressed = None;
        self.transaction = Some(Transaction::new(pulse.fell_ns, pulse.rose_ns, speed, pulse.low_ns()));
    }

    fn presence(&mut self, pulse: Pulse, emit: &mut impl FnMut(Event)) {
        let Some(transaction) = &mut self.transaction else {
            // After a low that was no reset sensors answer, too; at no other time.
            emit(match self.low_until_ns {
                Some(until_ns) => {
                    Event::Presence { pulse, after_ns: pulse.fell_ns.saturating_sub(until_ns), speed: self.speed }
                }
                None => Event::Stray(pulse),
            });
            return;
        };
        let after_ns = pulse.fell_ns.saturating_sub(transaction.at_ns + transaction.reset.low_ns);
        transaction.reset.presence = Some(Presence { after_ns, low_ns: pulse.low_ns() });
        transaction.end_ns = pulse.rose_ns;
        emit(Event::Presence { pulse, after_ns, speed: self.speed });
    }

    fn slot(&mut self, pulse: Pulse, emit: &mut impl FnMut(Event)) {
        let lengths = self.speed.lengths();
        let low_ns = pulse.low_ns();
        let speed = self.speed;
        let forced = self.forced.iter().find(|(fell_ns, _)| *fell_ns == pulse.fell_ns).map(|(_, bit)| *bit);
        // Where nothing is due, or a state is polled, no party sends such a slot.
        if forced.is_none() && low_ns > lengths.longest_slot_ns && (self.is_polling() || self.role() == Role::Unknown) {
            emit(Event::Stray(pulse));
            return;
        }
        if self.transaction.is_none() {
            let bit = low_ns < lengths.zero_ns;
            emit(Event::Slot(Slot { pulse, bit, role: Role::Unknown, speed }));
            return;
        }
        // A zero as long as only masters send it, where a sensor is polled for its state: a new command.
        if forced.is_none() && self.is_polling() && low_ns >= lengths.masters_zero_ns {
            self.due = Due::Nothing;
            self.bits = Bits::default();
        }
        let role = self.role();
        // Where it is not known who decides, the border of reads serves for writes too.
        let border_ns = if role == Role::Write { lengths.zero_ns } else { self.borders.of(speed) };
        let bit = forced.unwrap_or(low_ns < border_ns);
        if let Some(transaction) = &mut self.transaction {
            transaction.end_ns = pulse.rose_ns;
        }
        emit(Event::Slot(Slot { pulse, bit, role, speed }));
        self.take(bit, pulse);
    }

    fn is_polling(&self) -> bool {
        matches!(&self.due, Due::Data { parts: [Part::Polled, ..], .. })
    }

    fn role(&self) -> Role {
        match &self.due {
            Due::RomCommand | Due::RomWritten | Due::Function(_) => Role::Write,
            Due::Search { reads, .. } => {
                if reads.len() < 2 {
                    Role::Read
                } else {
                    Role::Write
                }
            }
            Due::RomAnswered => Role::Read,
            Due::Data { parts, .. } => match parts.first() {
                Some(Part::Written(_)) => Role::Write,
                Some(Part::Answered(_) | Part::AnsweredOn | Part::Polled) => Role::Read,
                None => Role::Unknown,
            },
            Due::Nothing | Due::Foreign => Role::Unknown,
        }
    }

    fn take(&mut self, bit: bool, pulse: Pulse) {
        if let Due::Search { .. } = self.due {
            self.search(bit);
            return;
        }
        if self.is_polling() {
            if let Some(transaction) = &mut self.transaction {
                transaction.polled(bit, pulse.fell_ns);
            }
            return;
        }
        if let Some(whole) = self.bits.take(bit, pulse.fell_ns) {
            self.byte(whole, pulse);
        }
    }

    fn search(&mut self, bit: bool) {
        let Due::Search { triplets, reads } = &mut self.due else { return };
        reads.push(bit);
        match *reads.as_slice() {
            [true, true] => {
                triplets.push(Triplet { bit: true, complement: true, written: None });
                self.close_rom(SearchEnd::Silent);
                self.due = Due::Nothing;
            }
            [bit, complement, written] => {
                triplets.push(Triplet { bit, complement, written: Some(written) });
                reads.clear();
                if triplets.len() == TRIPLETS {
                    let bytes = chosen_rom(triplets);
                    self.close_rom(SearchEnd::Whole);
                    self.address(bytes, Addressing::Search);
                }
            }
            _ => {}
        }
    }

    /// A ROM code is whole: a function command is due next. A damaged one addresses no known sensor.
    fn address(&mut self, rom: [u8; 8], how: Addressing) {
        let rom = Rom::new(rom).ok();
        self.addressed = rom.and_then(Rom::family);
        self.due = if rom.is_some() && self.addressed.is_none() { Due::Foreign } else { Due::Function(how) };
        if let Some(family) = self.addressed {
            let has_no_configuration = family == Family::Ds18s20;
            self.all_without_configuration =
                Some(has_no_configuration && self.all_without_configuration.unwrap_or(true));
        }
    }

    /// Puts what there is of a search or of a ROM code into the transaction.
    fn close_rom(&mut self, end: SearchEnd) {
        let Some(transaction) = &mut self.transaction else { return };
        let bytes = Bytes(std::mem::take(&mut self.rom));
        match std::mem::replace(&mut self.due, Due::Nothing) {
            Due::Search { mut triplets, reads } => {
                if let [bit, complement] = *reads.as_slice()
                    && end == SearchEnd::BrokenOff
                {
                    triplets.push(Triplet { bit, complement, written: None });
                }
                transaction.push(Phase::Search { triplets, end });
            }
            Due::RomWritten => transaction.push(Phase::RomWritten { bytes }),
            Due::RomAnswered => transaction.push(Phase::RomAnswered { bytes }),
            due => self.due = due,
        }
    }

    fn byte(&mut self, whole: Whole, pulse: Pulse) {
        let Whole { byte, at_ns } = whole;
        let Some(transaction) = &mut self.transaction else { return };
        match &mut self.due {
            Due::RomCommand => self.rom_command(whole, pulse),
            Due::Search { .. } => {}
            Due::RomWritten | Due::RomAnswered => {
                self.rom.push(byte);
                if let Ok(bytes) = <[u8; 8]>::try_from(self.rom.as_slice()) {
                    self.close_rom(SearchEnd::Whole);
                    self.address(bytes, Addressing::RomCommand);
                }
            }
            Due::Function(addressing) => {
                let addressing = *addressing;
                self.function(byte, at_ns, pulse.rose_ns, addressing);
            }
            Due::Data { parts, left } => {
                match parts.first() {
                    Some(Part::Written(_)) => transaction.written(byte),
                    Some(_) => transaction.answered(byte),
                    None => {}
                }
                if matches!(parts.first(), Some(Part::AnsweredOn)) {
                    return;
                }
                *left = left.saturating_sub(1);
                if *left == 0 {
                    let rest = parts.get(1..).unwrap_or_default();
                    self.due = due(rest);
                }
            }
            Due::Foreign => transaction.foreign(byte),
            Due::Nothing => {
                if parts(byte, false).is_some() {
                    self.function(byte, at_ns, pulse.rose_ns, Addressing::Function);
                } else if byte == 0xFF {
                    transaction.read_on();
                } else {
                    transaction.written(byte);
                }
            }
        }
    }

    fn rom_command(&mut self, Whole { byte, at_ns }: Whole, pulse: Pulse) {
        if parts(byte, false).is_some() {
            self.function(byte, at_ns, pulse.rose_ns, Addressing::ResetOnly);
            return;
        }
        let Some(transaction) = &mut self.transaction else { return };
        transaction.push(Phase::RomCommand { at_ns, code: byte });
        if matches!(byte, code::OVERDRIVE_SKIP_ROM | code::OVERDRIVE_MATCH_ROM) {
            self.speed = Speed::Overdrive;
        }
        self.due = match byte {
            code::SEARCH_ROM | code::ALARM_SEARCH => Due::Search { triplets: Vec::new(), reads: Vec::new() },
            code::READ_ROM | code::CONDITIONAL_READ_ROM => Due::RomAnswered,
            code::MATCH_ROM | code::OVERDRIVE_MATCH_ROM => Due::RomWritten,
            code::SKIP_ROM | code::OVERDRIVE_SKIP_ROM => Due::Function(Addressing::RomCommand),
            _ => Due::Nothing,
        };
    }

    fn function(&mut self, function: u8, at_ns: u64, done_ns: u64, addressing: Addressing) {
        let Some(transaction) = &mut self.transaction else { return };
        transaction.push(Phase::Function { at_ns, done_ns, code: function, addressing });
        let limits_only =
            self.addressed.map_or(self.all_without_configuration == Some(true), |family| family == Family::Ds18s20);
        self.due = parts(function, limits_only).map_or(Due::Nothing, due);
    }
}

fn due(parts: &'static [Part]) -> Due {
    match parts.first() {
        None => Due::Nothing,
        Some(Part::Written(count) | Part::Answered(count)) => Due::Data { parts, left: *count },
        Some(Part::Polled | Part::AnsweredOn) => Due::Data { parts, left: 0 },
    }
}
