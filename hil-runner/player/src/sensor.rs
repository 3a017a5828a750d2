//! One played sensor: its registers, its EEPROM, and the work in progress.

use crate::crc::check;
use crate::part::{Part, RomCode};
use crate::registers::{BYTE_SEVEN, BYTE_SIX, configuration, converted, power_up, raises_alarm, undefined_bits};

/// How a sensor would be powered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Power {
    /// A supply wire of its own.
    #[default]
    Local,
    /// From the line; refused.
    Parasite,
}

/// A sensor before it is plugged in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SensorConfig {
    /// Which part: the layout of its registers. Its ROM code may say another.
    pub part: Part,
    /// Its ROM code; several sensors may have the same.
    pub rom: RomCode,
    /// How it is powered.
    pub power: Power,
    /// Its temperature, in sixteenths of a degree Celsius.
    pub sixteenths: i16,
    /// TH, TL and configuration in its EEPROM. 4Bh, 46h (from memory), 7Fh (DS18B20 (7/19) Figure 10).
    pub eeprom: [u8; 3],
    /// Address pins AD3..AD0 of a DS1825.
    pub address_pins: u8,
    /// Conversion time at 9, 10, 11 and 12 bits, in microseconds; a part without a configuration register takes the last. Four fifths
    /// (assumed) of the maximum (DS18B20 (7/19) Table 2).
    pub conversion_us: [u32; 4],
    /// Time of an EEPROM write, tWR: 2 ms typical (DS18B20 (7/19) NV table).
    pub copy_us: u32,
    /// Time of a recall: 100 us, assumed.
    pub recall_us: u32,
    /// EEPROM writes that it takes: 50 000 (DS18B20 (7/19) NV table).
    pub endurance: u32,
}

impl SensorConfig {
    /// A typical sensor at 25 degC.
    #[must_use]
    pub fn new(part: Part, serial: u64) -> Self {
        Self {
            part,
            rom: RomCode::new(part, serial),
            power: Power::Local,
            sixteenths: 25 * 16,
            eeprom: [0x4B, 0x46, 0x7F],
            address_pins: 0,
            conversion_us: [75_000, 150_000, 300_000, 600_000],
            copy_us: 2_000,
            recall_us: 100,
            endurance: 50_000,
        }
    }
}

/// What a played sensor holds at a moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SensorState {
    /// Its ROM code.
    pub rom: RomCode,
    /// The nine bytes of its scratchpad.
    pub scratchpad: [u8; 9],
    /// TH, TL and configuration in its EEPROM.
    pub eeprom: [u8; 3],
    /// Its alarm flag.
    pub alarm: bool,
    /// Whether a conversion, a copy or a recall is in progress.
    pub busy: bool,
    /// Conversions that ended.
    pub conversions: u32,
    /// EEPROM writes that ended, those beyond the endurance included.
    pub eeprom_writes: u32,
}

/// What a sensor does at Convert T.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Conversion {
    /// Takes its time.
    Usual,
    /// Never ends by itself.
    Stuck,
    /// Loses its supply for a moment.
    BrownOut,
}

/// A sensor on the pin. Times are ticks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sensor {
    pub(crate) config: SensorConfig,
    pub(crate) scratchpad: [u8; 9],
    eeprom: [u8; 3],
    pub(crate) alarm: bool,
    /// When work ends; `None` without work. A conversion carries the bits it leaves undefined, a copy what it saves.
    converts: Option<(u64, u8)>,
    stuck: bool,
    copies: Option<(u64, [u8; 3])>,
    recalls: Option<u64>,
    /// Whether the check sum is that of the other eight bytes.
    summed: bool,
    conversions: u32,
    eeprom_writes: u32,
}

impl Sensor {
    pub(crate) const fn new(config: SensorConfig) -> Self {
        let [high, low, settings] = config.eeprom;
        let eeprom = match config.part {
            Part::Ds18s20 => [high, low, 0xFF],
            part => [high, low, configuration(part, config.address_pins, settings)],
        };
        Self {
            config,
            scratchpad: [0; 9],
            eeprom,
            alarm: false,
            converts: None,
            stuck: false,
            copies: None,
            recalls: None,
            summed: false,
            conversions: 0,
            eeprom_writes: 0,
        }
    }

    /// The state after power: +85 degC, the rest from the EEPROM; work in progress is lost.
    pub(crate) fn power_up(&mut self) {
        let [high, low, settings] = self.eeprom;
        let [t0, t1] = power_up(self.config.part);
        self.scratchpad = [t0, t1, high, low, settings, 0xFF, BYTE_SIX, BYTE_SEVEN, 0];
        self.alarm = false;
        self.converts = None;
        self.stuck = false;
        self.copies = None;
        self.recalls = None;
        self.sum();
    }

    fn sum(&mut self) {
        let [bytes @ .., sum] = &mut self.scratchpad;
        *sum = check(bytes);
        self.summed = true;
    }

    /// When its work ends; 0 without work.
    pub(crate) fn ends(&self) -> u64 {
        let converts = self.converts.map_or(0, |(end, _)| if self.stuck { u64::MAX } else { end });
        converts.max(self.copies.map_or(0, |(end, _)| end)).max(self.recalls.unwrap_or(0))
    }

    /// Whether there is work, or was until it is settled.
    pub(crate) const fn is_busy(&self) -> bool {
        self.converts.is_some() || self.copies.is_some() || self.recalls.is_some()
    }

    /// Whether [`Self::settle`] has something to do by `at`.
    pub(crate) fn is_due(&self, at: u64) -> bool {
        let due = |end: Option<u64>| end.is_some_and(|end| end <= at);
        !self.summed
            || due(self.converts.filter(|_| !self.stuck).map(|(end, _)| end))
            || due(self.copies.map(|(end, _)| end))
            || due(self.recalls)
    }

    /// Ends the work that is over, and sums.
    pub(crate) fn settle(&mut self, at: u64) {
        if let Some((_, undefined)) = self.converts.filter(|(end, _)| *end <= at && !self.stuck) {
            self.converts = None;
            self.end_conversion(undefined);
        }
        if let Some((_, content)) = self.copies.filter(|(end, _)| *end <= at) {
            self.copies = None;
            self.eeprom_writes = self.eeprom_writes.saturating_add(1);
            if self.eeprom_writes <= self.config.endurance {
                self.eeprom = content;
            }
        }
        if self.recalls.is_some_and(|end| end <= at) {
            self.recalls = None;
            let [_, _, high, low, settings, ..] = &mut self.scratchpad;
            [*high, *low, *settings] = self.eeprom;
        }
        self.sum();
    }

    fn end_conversion(&mut self, undefined: u8) {
        let part = self.config.part;
        let (register, byte_six) = converted(part, undefined, self.config.sixteenths);
        let [t0, t1, high, low, _, _, six, ..] = &mut self.scratchpad;
        [*t0, *t1] = register;
        *six = byte_six;
        self.alarm = raises_alarm(part, register, *high, *low);
        self.conversions = self.conversions.wrapping_add(1);
    }

    /// Convert T. One that runs goes on, but for one that is stuck.
    pub(crate) fn convert(&mut self, at: u64, ticks_per_us: u32, how: Conversion) {
        if how == Conversion::BrownOut {
            return self.power_up();
        }
        if self.converts.is_some() && !self.stuck {
            return;
        }
        let undefined = if self.config.part.has_configuration() { undefined_bits(self.settings()) } else { 0 };
        let [t9, t10, t11, t12] = self.config.conversion_us;
        let us = match undefined {
            3 => t9,
            2 => t10,
            1 => t11,
            _ => t12,
        };
        self.converts = Some((at.wrapping_add(u64::from(us) * u64::from(ticks_per_us)), undefined));
        self.stuck = how == Conversion::Stuck;
    }

    /// Lets a stuck conversion end.
    pub(crate) const fn unstick(&mut self) {
        self.stuck = false;
    }

    const fn settings(&self) -> u8 {
        let [_, _, _, _, settings, ..] = self.scratchpad;
        settings
    }

    /// Copy Scratchpad; `saves` is false of a part that only takes its time.
    pub(crate) fn copy(&mut self, at: u64, ticks_per_us: u32, saves: bool) {
        let [_, _, high, low, settings, ..] = self.scratchpad;
        let content = if saves { [high, low, settings] } else { self.eeprom };
        let end = at.wrapping_add(u64::from(self.config.copy_us) * u64::from(ticks_per_us));
        self.copies.get_or_insert((end, content));
    }

    /// Recall E2.
    pub(crate) fn recall(&mut self, at: u64, ticks_per_us: u32) {
        let end = at.wrapping_add(u64::from(self.config.recall_us) * u64::from(ticks_per_us));
        self.recalls.get_or_insert(end);
    }

    /// Byte `place` of a Write Scratchpad.
    pub(crate) fn write(&mut self, place: u8, byte: u8) {
        let (part, pins) = (self.config.part, self.config.address_pins);
        let [_, _, high, low, settings, ..] = &mut self.scratchpad;
        match place {
            0 => *high = byte,
            1 => *low = byte,
            2 if part.has_configuration() => *settings = configuration(part, pins, byte),
            _ => return,
        }
        self.summed = false;
    }

    pub(crate) const fn state(&self) -> SensorState {
        SensorState {
            rom: self.config.rom,
            scratchpad: self.scratchpad,
            eeprom: self.eeprom,
            alarm: self.alarm,
            busy: self.is_busy(),
            conversions: self.conversions,
            eeprom_writes: self.eeprom_writes,
        }
    }
}
