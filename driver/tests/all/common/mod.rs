//! Sensors at the level of slots, without electricity or time: fast enough to search thousands of lines.
//!
//! Written from the flow charts of the DS18B20 datasheet (7/19), Figures 13 and 14.
#![allow(dead_code)] // each test file uses its own part

use std::convert::Infallible;

use slotwise::bus::RomCode;
use slotwise::line::{Line, LineError, Presence};

/// CRC by long division, bit by bit: X^8 + X^5 + X^4 + 1, low bit first (DS18B20 datasheet (7/19), CRC Generation).
pub fn crc(bytes: &[u8]) -> u8 {
    let mut register = 0u8;
    for byte in bytes {
        for position in 0..8 {
            let feedback = (register ^ byte >> position) & 1;
            register >>= 1;
            if feedback == 1 {
                register ^= 0b1000_1100;
            }
        }
    }
    register
}

pub fn rom(family: u8, serial: [u8; 6]) -> RomCode {
    let [a, b, c, d, e, f] = serial;
    let bytes = [family, a, b, c, d, e, f];
    RomCode::new([family, a, b, c, d, e, f, crc(&bytes)]).unwrap()
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum State {
    Deaf,
    RomCommand,
    Search { position: u32, phase: u8 },
    Match { position: u32 },
    SendRom { position: u32 },
    Function,
    SendScratchpad { position: u32 },
    TakeScratchpad { position: u32 },
    Busy,
}

#[derive(Clone, Debug)]
pub struct SlotSensor {
    pub rom: RomCode,
    pub in_alarm: bool,
    pub scratchpad: [u8; 9],
    /// Read slots answered with "busy" after Convert T.
    pub busy_slots: u32,
    /// TH, TL and configuration as its EEPROM holds them.
    pub eeprom: [u8; 3],
    /// Function commands that it misses, each as often as it is listed.
    pub misses: Vec<u8>,
    /// Flips these bits of the scratchpads that it sends; the first entry is for the next one.
    pub flips: Vec<Vec<u32>>,
    sent: [u8; 9],
    busy_left: u32,
    state: State,
    shifted: u8,
    count: u32,
}

impl SlotSensor {
    pub fn new(rom: RomCode) -> Self {
        let mut scratchpad = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0];
        scratchpad[8] = crc(&scratchpad[..8]);
        Self {
            rom,
            in_alarm: false,
            scratchpad,
            busy_slots: 3,
            eeprom: [0x4B, 0x46, 0x7F],
            misses: Vec::new(),
            flips: Vec::new(),
            sent: scratchpad,
            busy_left: 0,
            state: State::Deaf,
            shifted: 0,
            count: 0,
        }
    }

    fn rom_bit(&self, position: u32) -> bool {
        u64::from_le_bytes(*self.rom.bytes()) >> position & 1 == 1
    }

    /// The bit this sensor puts on the line in a read slot; 1 is silence.
    fn sends(&self) -> bool {
        match self.state {
            State::Search { position, phase: 0 } => self.rom_bit(position),
            State::Search { position, phase: 1 } => !self.rom_bit(position),
            State::SendRom { position } => self.rom_bit(position),
            State::SendScratchpad { position } => {
                position >= 72 || self.sent[position as usize / 8] >> (position % 8) & 1 == 1
            }
            State::Busy => self.busy_left == 0,
            _ => true,
        }
    }

    /// Function commands (DS18B20 datasheet (7/19), Table 3). Recall and Copy are done at once; no time is given for a recall.
    fn takes(&mut self, command: u8) -> State {
        if let Some(at) = self.misses.iter().position(|missed| *missed == command) {
            self.misses.remove(at);
            return State::Deaf;
        }
        match command {
            0xBE => {
                self.sent = self.scratchpad;
                if !self.flips.is_empty() {
                    for bit in self.flips.remove(0) {
                        self.sent[bit as usize / 8] ^= 1 << (bit % 8);
                    }
                }
                State::SendScratchpad { position: 0 }
            }
            0x4E => State::TakeScratchpad { position: 0 },
            0x48 => {
                self.eeprom.copy_from_slice(&self.scratchpad[2..5]);
                State::Deaf
            }
            0xB8 => {
                self.scratchpad[2..5].copy_from_slice(&self.eeprom);
                self.scratchpad[8] = crc(&self.scratchpad[..8]);
                State::Deaf
            }
            0x44 => {
                self.busy_left = self.busy_slots;
                State::Busy
            }
            _ => State::Deaf,
        }
    }

    fn hears(&mut self, bit: bool) {
        self.state = match self.state {
            State::RomCommand | State::Function => {
                self.shifted = self.shifted >> 1 | u8::from(bit) << 7;
                self.count += 1;
                if self.count < 8 {
                    return;
                }
                self.count = 0;
                match (self.state, self.shifted) {
                    (State::RomCommand, 0xF0) => State::Search { position: 0, phase: 0 },
                    (State::RomCommand, 0xEC) if self.in_alarm => State::Search { position: 0, phase: 0 },
                    (State::RomCommand, 0x55) => State::Match { position: 0 },
                    (State::RomCommand, 0xCC) => State::Function,
                    (State::RomCommand, 0x33) => State::SendRom { position: 0 },
                    (State::Function, command) => self.takes(command),
                    _ => State::Deaf,
                }
            }
            State::Search { position, phase: phase @ 0..=1 } => State::Search { position, phase: phase + 1 },
            State::Search { position, .. } => {
                if bit != self.rom_bit(position) || position == 63 {
                    State::Deaf
                } else {
                    State::Search { position: position + 1, phase: 0 }
                }
            }
            State::Match { position } if bit != self.rom_bit(position) => State::Deaf,
            State::Match { position: 63 } => State::Function,
            State::Match { position } => State::Match { position: position + 1 },
            State::SendRom { position: 63 } => State::Function,
            State::SendRom { position } => State::SendRom { position: position + 1 },
            State::SendScratchpad { position } => State::SendScratchpad { position: position + 1 },
            State::TakeScratchpad { position: 24.. } => State::Deaf,
            State::TakeScratchpad { position } => {
                let (byte, mask) = (2 + position as usize / 8, 1 << (position % 8));
                let old = self.scratchpad[byte];
                self.scratchpad[byte] = if bit { old | mask } else { old & !mask };
                // The other bits of the configuration are fixed (DS18B20 datasheet (7/19), Figure 10).
                self.scratchpad[4] = self.scratchpad[4] & 0x7F | 0x1F;
                self.scratchpad[8] = crc(&self.scratchpad[..8]);
                State::TakeScratchpad { position: position + 1 }
            }
            State::Busy => {
                self.busy_left = self.busy_left.saturating_sub(1);
                State::Busy
            }
            State::Deaf => State::Deaf,
        };
    }
}

/// A line of such sensors.
#[derive(Clone, Debug, Default)]
pub struct SlotLine {
    pub sensors: Vec<SlotSensor>,
    pub resets: u32,
    pub slots: u64,
    pub waited_us: u64,
    pub powered: bool,
    pub has_pull_up: bool,
}

impl SlotLine {
    pub fn of(roms: impl IntoIterator<Item = RomCode>) -> Self {
        Self { sensors: roms.into_iter().map(SlotSensor::new).collect(), ..Self::default() }
    }
}

impl Line for SlotLine {
    type Error = Infallible;

    fn reset(&mut self) -> Result<Presence, LineError<Infallible>> {
        self.end_power()?;
        self.resets += 1;
        for sensor in &mut self.sensors {
            sensor.state = State::RomCommand;
            sensor.count = 0;
        }
        Ok(if self.sensors.is_empty() { Presence::Absent } else { Presence::Present })
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Infallible>> {
        self.end_power()?;
        self.slots += 1;
        let level = bit && self.sensors.iter().all(SlotSensor::sends);
        for sensor in &mut self.sensors {
            sensor.hears(bit);
        }
        Ok(level)
    }

    fn delay_us(&mut self, us: u32) {
        self.waited_us += u64::from(us);
    }

    fn slot_us(&self) -> u32 {
        0
    }

    fn write_byte_and_power(&mut self, byte: u8) -> Result<(), LineError<Infallible>> {
        if !self.has_pull_up {
            return Err(LineError::StrongPullUp(slotwise::line::SwitchError::Missing));
        }
        self.write_byte(byte)?;
        self.powered = true;
        Ok(())
    }

    fn end_power(&mut self) -> Result<(), LineError<Infallible>> {
        self.powered = false;
        Ok(())
    }
}

/// A line that answers with given bits, right or wrong, for ever.
#[derive(Clone, Debug)]
pub struct ArbitraryLine {
    pub answers: Vec<u8>,
    pub at: usize,
    pub slots: u64,
}

impl ArbitraryLine {
    fn next(&mut self) -> bool {
        let bit = self.at % (self.answers.len() * 8);
        self.at += 1;
        self.answers[bit / 8] >> (bit % 8) & 1 == 1
    }
}

impl Line for ArbitraryLine {
    type Error = Infallible;

    fn reset(&mut self) -> Result<Presence, LineError<Infallible>> {
        Ok(Presence::Present)
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Infallible>> {
        self.slots += 1;
        Ok(self.next() && bit)
    }

    fn delay_us(&mut self, _us: u32) {}

    fn slot_us(&self) -> u32 {
        64
    }

    fn write_bit(&mut self, bit: bool) -> Result<(), LineError<Infallible>> {
        // The worst case for the code above: writes never notice anything.
        self.slot(bit).map(|_| ())
    }
}
