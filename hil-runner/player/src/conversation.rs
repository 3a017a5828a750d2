//! From bits to commands: what the sensors together answer in the next slot, and what they make of a bit.

use crate::fault::{Draw, Fault, Faults};
use crate::part::Part;
use crate::report::Transaction;
use crate::sensor::Conversion;
use crate::sensors::Sensors;

/// ROM commands. DS18B20 (7/19), ROM Commands.
mod rom_command {
    pub(super) const SEARCH_ROM: u8 = 0xF0;
    pub(super) const READ_ROM: u8 = 0x33;
    pub(super) const MATCH_ROM: u8 = 0x55;
    pub(super) const SKIP_ROM: u8 = 0xCC;
    pub(super) const ALARM_SEARCH: u8 = 0xEC;
}

/// ROM commands of the DS28EA00 that are not played: Conditional Read ROM and the two of overdrive (from memory).
const NOT_PLAYED_ROM: [u8; 3] = [0x0F, 0x3C, 0x69];
/// Function commands of the DS28EA00 that are not played: chain (p. 12), PIO read and write (from memory).
const NOT_PLAYED_FUNCTION: [u8; 3] = [0x99, 0xF5, 0xA5];

/// Function commands. DS18B20 (7/19), Table 3.
mod function_command {
    pub(super) const CONVERT_T: u8 = 0x44;
    pub(super) const WRITE_SCRATCHPAD: u8 = 0x4E;
    pub(super) const READ_SCRATCHPAD: u8 = 0xBE;
    pub(super) const COPY_SCRATCHPAD: u8 = 0x48;
    pub(super) const RECALL_E2: u8 = 0xB8;
    pub(super) const READ_POWER_SUPPLY: u8 = 0xB4;
}

/// How far the transaction has come. A number is the next bit or byte, from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    /// Nothing until the next reset.
    Asleep,
    RomCommand,
    MatchRom(u8),
    ReadRom(u8),
    SearchBit(u8),
    SearchComplement(u8),
    SearchChoice(u8),
    FunctionCommand,
    WriteScratchpad(u8),
    ReadScratchpad(u8),
    Busy,
    PowerSupply,
}

/// What the sensors do in a slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Answer {
    /// Nothing, and no bit is taken.
    Asleep,
    /// A bit of the master is taken.
    Listen,
    /// They send 1.
    One,
    /// One of them sends 0.
    Zero,
}

/// Ticks of a 0 that is unlike the others.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Distorted {
    pub(crate) begins_ns: Option<u32>,
    pub(crate) ends_ns: Option<u32>,
}

/// What a transaction needs beside its own state.
pub(crate) struct Scene<'a> {
    pub(crate) sensors: &'a mut Sensors,
    pub(crate) faults: &'a mut Faults,
    /// Now, in ticks.
    pub(crate) at: u64,
    pub(crate) ticks_per_us: u32,
}

/// A transaction, from the sensors' side.
#[derive(Clone, Debug)]
pub(crate) struct Conversation {
    phase: Phase,
    /// Sensors that still take part.
    active: u32,
    byte: u8,
    bits: u8,
    /// The wired-AND of what the active sensors send.
    outgoing: [u8; 9],
    /// Sensors whose zeros are distorted, and how.
    late: (u32, u32),
    short: (u32, u32),
    pub(crate) transaction: Transaction,
}

impl Conversation {
    pub(crate) fn new() -> Self {
        Self {
            phase: Phase::Asleep,
            active: 0,
            byte: 0,
            bits: 0,
            outgoing: [0xFF; 9],
            late: (0, 0),
            short: (0, 0),
            transaction: Transaction::default(),
        }
    }

    /// A reset has ended: all that are plugged in take part again.
    pub(crate) fn reset(&mut self, plugged: u32, transaction: Transaction) {
        *self = Self::new();
        self.transaction = Transaction { addressed: plugged, ..transaction };
        self.active = plugged;
        self.phase = if plugged == 0 { Phase::Asleep } else { Phase::RomCommand };
    }

    /// Sensors taken off the line no longer take part.
    pub(crate) fn keep(&mut self, plugged: u32) {
        self.narrow(self.active & plugged, self.phase);
    }

    /// What happens in the next slot.
    pub(crate) fn answer(&self, sensors: &Sensors, at: u64) -> Answer {
        let zero = match self.phase {
            Phase::Asleep => return Answer::Asleep,
            Phase::RomCommand
            | Phase::MatchRom(_)
            | Phase::SearchChoice(_)
            | Phase::FunctionCommand
            | Phase::WriteScratchpad(_) => return Answer::Listen,
            Phase::SearchBit(place) | Phase::ReadRom(place) => self.active & !sensors.ones_at(place) != 0,
            Phase::SearchComplement(place) => self.active & sensors.ones_at(place) != 0,
            Phase::ReadScratchpad(place) => {
                let byte = self.outgoing.get(usize::from(place >> 3)).copied().unwrap_or(0xFF);
                byte >> (place & 7) & 1 == 0
            }
            Phase::Busy => sensors.ends(self.active) > at,
            Phase::PowerSupply => false,
        };
        if zero { Answer::Zero } else { Answer::One }
    }

    /// When the next slot is no longer answered with 0, by itself.
    pub(crate) fn zero_until(&self, sensors: &Sensors) -> Option<u64> {
        (self.phase == Phase::Busy).then(|| sensors.ends(self.active))
    }

    /// How a 0 of the next slot is distorted: only if those of all that take part are.
    pub(crate) const fn distorted(&self) -> Distorted {
        let (late, begins_ns) = self.late;
        let (short, ends_ns) = self.short;
        Distorted {
            begins_ns: if self.active & !late == 0 { Some(begins_ns) } else { None },
            ends_ns: if self.active & !short == 0 { Some(ends_ns) } else { None },
        }
    }

    /// The sensors have answered a slot.
    pub(crate) fn sent(&mut self) {
        self.transaction.answered = self.transaction.answered.saturating_add(1);
        self.phase = match self.phase {
            Phase::SearchBit(place) => Phase::SearchComplement(place),
            Phase::SearchComplement(place) => Phase::SearchChoice(place),
            Phase::ReadRom(63) => Phase::FunctionCommand,
            Phase::ReadRom(place) => Phase::ReadRom(place + 1),
            // What follows are the 1s of the resistor.
            Phase::ReadScratchpad(71) => Phase::Asleep,
            Phase::ReadScratchpad(place) => Phase::ReadScratchpad(place + 1),
            same => same,
        };
    }

    /// The sensors have sampled a bit.
    pub(crate) fn take(&mut self, bit: bool, scene: &mut Scene<'_>) {
        match self.phase {
            Phase::RomCommand => {
                if let Some(command) = self.collect(bit) {
                    self.rom_command(command, scene);
                }
            }
            Phase::FunctionCommand => {
                if let Some(command) = self.collect(bit) {
                    self.function_command(command, scene);
                }
            }
            Phase::WriteScratchpad(place) => {
                if let Some(byte) = self.collect(bit) {
                    self.write_scratchpad(place, byte, scene);
                }
            }
            Phase::MatchRom(place) => {
                let next = if place < 63 { Phase::MatchRom(place + 1) } else { Phase::FunctionCommand };
                self.choose(place, bit, next, scene.sensors);
            }
            Phase::SearchChoice(place) => {
                // After a search the master starts again from a reset: DS18B20 (7/19), Transaction Sequence.
                let next = if place < 63 { Phase::SearchBit(place + 1) } else { Phase::Asleep };
                self.choose(place, bit, next, scene.sensors);
            }
            Phase::Asleep
            | Phase::ReadRom(_)
            | Phase::SearchBit(_)
            | Phase::SearchComplement(_)
            | Phase::ReadScratchpad(_)
            | Phase::Busy
            | Phase::PowerSupply => {}
        }
    }

    fn collect(&mut self, bit: bool) -> Option<u8> {
        self.byte = self.byte >> 1 | u8::from(bit) << 7;
        self.bits += 1;
        if self.bits < 8 {
            return None;
        }
        self.bits = 0;
        Some(self.byte)
    }

    /// Those with another bit at this place wait for the next reset.
    fn choose(&mut self, place: u8, bit: bool, next: Phase, sensors: &Sensors) {
        if let Some(byte) = self.transaction.rom.get_mut(usize::from(place >> 3)) {
            *byte |= u8::from(bit) << (place & 7);
        }
        self.transaction.rom_bits = place + 1;
        let ones = sensors.ones_at(place);
        self.narrow(self.active & if bit { ones } else { !ones }, next);
    }

    fn narrow(&mut self, active: u32, next: Phase) {
        self.active = active;
        self.transaction.addressed = active;
        self.phase = if active == 0 { Phase::Asleep } else { next };
    }

    fn rom_command(&mut self, command: u8, scene: &mut Scene<'_>) {
        self.transaction.rom_command = Some(command);
        let (next, active) = match command {
            rom_command::SEARCH_ROM => (Phase::SearchBit(0), self.draw_answers(self.active, scene)),
            rom_command::READ_ROM => (Phase::ReadRom(0), self.draw_answers(self.active, scene)),
            rom_command::ALARM_SEARCH => {
                let alarmed = scene.sensors.alarmed(self.active);
                (Phase::SearchBit(0), self.draw_answers(alarmed, scene))
            }
            rom_command::MATCH_ROM => (Phase::MatchRom(0), self.active),
            rom_command::SKIP_ROM => (Phase::FunctionCommand, self.active),
            other => {
                self.note_not_played(NOT_PLAYED_ROM.contains(&other), scene.sensors);
                (Phase::Asleep, 0)
            }
        };
        self.narrow(active, next);
    }

    /// The faults of those that are about to send; those that send nothing are taken out.
    fn draw_answers(&mut self, active: u32, scene: &mut Scene<'_>) -> u32 {
        let mut silent = 0;
        let (late, short) = (&mut self.late, &mut self.short);
        let played = scene.faults.draw(Draw::Answer, active, |fault, hits| match *fault {
            Fault::NoAnswer => silent |= hits,
            Fault::AnswerLate { ns } => *late = (late.0 | hits, ns),
            Fault::AnswerShort { ns } => *short = (short.0 | hits, ns),
            _ => {}
        });
        self.transaction.faults |= played;
        active & !silent
    }

    fn function_command(&mut self, command: u8, scene: &mut Scene<'_>) {
        self.transaction.function = Some(command);
        let (at, ticks_per_us, active) = (scene.at, scene.ticks_per_us, self.active);
        match command {
            function_command::CONVERT_T => {
                let (mut stuck, mut brown_out) = (0, 0);
                self.transaction.faults |= scene.faults.draw(Draw::Convert, active, |fault, hits| match fault {
                    Fault::StuckBusy => stuck |= hits,
                    Fault::BrownOut => brown_out |= hits,
                    _ => {}
                });
                scene.sensors.each(active, |index, sensor| {
                    let how = match 1 << (index & 31) {
                        bit if brown_out & bit != 0 => Conversion::BrownOut,
                        bit if stuck & bit != 0 => Conversion::Stuck,
                        _ => Conversion::Usual,
                    };
                    sensor.convert(at, ticks_per_us, how);
                });
                self.phase = Phase::Busy;
            }
            function_command::COPY_SCRATCHPAD => {
                let mut saves_nothing = 0;
                self.transaction.faults |= scene.faults.draw(Draw::Copy, active, |_, hits| saves_nothing |= hits);
                scene.sensors.each(active, |index, sensor| {
                    sensor.copy(at, ticks_per_us, saves_nothing >> (index & 31) & 1 == 0);
                });
                self.phase = Phase::Busy;
            }
            function_command::RECALL_E2 => {
                scene.sensors.each(active, |_, sensor| sensor.recall(at, ticks_per_us));
                self.phase = Phase::Busy;
            }
            function_command::WRITE_SCRATCHPAD => self.phase = Phase::WriteScratchpad(0),
            function_command::READ_SCRATCHPAD => {
                let active = self.draw_answers(active, scene);
                self.gather(active, scene);
                self.narrow(active, Phase::ReadScratchpad(0));
            }
            function_command::READ_POWER_SUPPLY => self.phase = Phase::PowerSupply,
            other => {
                self.note_not_played(NOT_PLAYED_FUNCTION.contains(&other), scene.sensors);
                self.phase = Phase::Asleep;
            }
        }
    }

    /// What goes out of all active sensors together, with the faults of those that have one.
    fn gather(&mut self, active: u32, scene: &mut Scene<'_>) {
        let mut flips: [(u32, Fault); 4] = [(0, Fault::WrongCrc); 4];
        let mut used = 0;
        self.transaction.faults |= scene.faults.draw(Draw::ReadScratchpad, active, |fault, hits| {
            if let Some(place) = flips.get_mut(used) {
                *place = (hits, *fault);
                used += 1;
            }
        });
        let outgoing = &mut self.outgoing;
        *outgoing = [0xFF; 9];
        scene.sensors.each(active, |index, sensor| {
            let mut sends = sensor.scratchpad;
            for (hits, fault) in flips {
                if hits >> (index & 31) & 1 == 1 {
                    distort(&mut sends, fault);
                }
            }
            for (line, byte) in outgoing.iter_mut().zip(sends) {
                *line &= byte;
            }
        });
    }

    fn write_scratchpad(&mut self, place: u8, byte: u8, scene: &mut Scene<'_>) {
        if let Some(kept) = self.transaction.written.get_mut(usize::from(place)) {
            *kept = byte;
        }
        self.transaction.written_bytes = place + 1;
        let mut fixed = 0;
        if place == 2 {
            self.transaction.faults |= scene.faults.draw(Draw::WriteScratchpad, self.active, |_, hits| fixed |= hits);
        }
        scene.sensors.each(self.active & !fixed, |_, sensor| sensor.write(place, byte));
        self.phase = if place < 2 { Phase::WriteScratchpad(place + 1) } else { Phase::Asleep };
    }

    fn note_not_played(&mut self, command: bool, sensors: &Sensors) {
        let knows = |index| sensors.get(index).is_some_and(|sensor| sensor.config.part == Part::Ds28ea00);
        self.transaction.not_played = command && crate::sensors::numbers(self.active).any(knows);
    }
}

/// What a fault makes of a scratchpad on its way out.
fn distort(sends: &mut [u8; 9], fault: Fault) {
    match fault {
        Fault::WrongCrc => {
            let [.., sum] = sends;
            *sum = !*sum;
        }
        Fault::FlippedBit { bit } => {
            if let Some(byte) = sends.get_mut(usize::from(bit >> 3)) {
                *byte ^= 1 << (bit & 7);
            }
        }
        Fault::ReservedBytes(reserved) => {
            let [bytes @ .., sum] = sends;
            let [.., five, six, seven] = bytes;
            [*five, *six, *seven] = reserved;
            *sum = crate::crc::check(bytes);
        }
        _ => {}
    }
}
