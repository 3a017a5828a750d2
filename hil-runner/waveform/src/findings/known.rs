//! What is known of a sensor at a moment of the capture.

use std::collections::BTreeSet;

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::Family;

use super::registers::Registers;
use crate::scratchpad::Number;
use crate::who::Who;
use slotwise_terms::units::decimal_sixteenths;

/// A conversion that the master started.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Conversion {
    /// When the command was over.
    pub(super) from_ns: u64,
    /// Whether the sensor was seen busy, and then done.
    pub(super) was_seen_done: bool,
    /// The configuration byte that it was made by, as far as that is known.
    pub(super) configuration: Option<u8>,
}

/// A Write Scratchpad whose bytes have not been read back yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Unconfirmed {
    pub(super) at_ns: u64,
    pub(super) registers: Registers,
    /// Whether sensors listened to it.
    pub(super) is_addressed: bool,
}

/// How the settings in the scratchpad stand to those in the EEPROM.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum AgainstEeprom {
    /// Nothing of it was seen.
    #[default]
    Unknown,
    /// Recalled from EEPROM, or copied to it.
    Same,
    /// They were written since.
    Written,
}

/// What is known of a sensor.
#[derive(Clone, Debug, Default)]
pub(super) struct Known {
    pub(super) found: u64,
    pub(super) addressed: u64,
    pub(super) reads: u64,
    pub(super) bad_reads: u64,
    /// Whether the last search did not find it any more.
    pub(super) is_gone: bool,
    pub(super) conversions: u64,
    /// When it began to convert the last time.
    pub(super) converted_ns: u64,
    pub(super) copies: u64,
    pub(super) first_copy_ns: u64,
    pub(super) last_copy_ns: u64,
    pub(super) last: Option<Number>,
    /// What the scratchpad holds.
    pub(super) registers: Option<Registers>,
    /// What the EEPROM holds.
    pub(super) eeprom: Option<Registers>,
    /// How the scratchpad stands to the EEPROM.
    pub(super) against_eeprom: AgainstEeprom,
    pub(super) unconfirmed: Option<Unconfirmed>,
    pub(super) conversion: Option<Conversion>,
    /// Whether it is on parasite power.
    pub(super) is_parasite: Option<bool>,
    /// Whether it was not seen yet when a command to all set what they hold: perhaps it was not there.
    pub(super) is_hearsay: bool,
    /// Values that byte 6 of the scratchpad had.
    pub(super) byte_6: BTreeSet<u8>,
}

impl Known {
    /// The same of this sensor: one without a configuration register took no byte for it.
    pub(super) fn of(self, who: Who) -> Self {
        Self {
            registers: self.registers.map(|registers| registers.of(who)),
            eeprom: self.eeprom.map(|registers| registers.of(who)),
            unconfirmed: self.unconfirmed.map(|of| Unconfirmed { registers: of.registers.of(who), ..of }),
            ..self
        }
    }

    /// What holds of one that is seen only now.
    pub(super) fn by_hearsay(self) -> Self {
        let is_hearsay = self.registers.or(self.eeprom).is_some() || self.unconfirmed.is_some();
        Self { is_hearsay, ..self }
    }

    /// These settings were read.
    pub(super) fn read(&mut self, registers: Option<Registers>) {
        self.registers = registers;
        // What was recalled from EEPROM, or copied to it, is in it.
        if self.against_eeprom == AgainstEeprom::Same {
            self.eeprom = registers;
        }
    }

    /// Edges are missing, or the supply was off: what it held and did, it need not hold and do any more.
    pub(super) fn forget(&mut self) {
        (self.registers, self.unconfirmed, self.conversion) = (None, None, None);
        (self.eeprom, self.against_eeprom) = (None, AgainstEeprom::Unknown);
    }
}

/// A sensor as the report has it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct SensorReport {
    /// Its ROM code; none if it was never on the line.
    pub rom: Option<String>,
    /// Its part number, if the family code is one of those that are known.
    pub part: Option<&'static str>,
    /// How many search passes ended with it.
    pub found: u64,
    /// How often it was addressed by its ROM code, or was the only one to be meant.
    pub addressed: u64,
    /// How often its whole scratchpad was read.
    pub reads: u64,
    /// How many of these were no good.
    pub bad_reads: u64,
    /// The last temperature, exactly, in degrees Celsius.
    pub last_celsius: Option<String>,
    /// Its resolution in bits, when it was last read.
    pub bits: Option<u8>,
    /// How often it received Convert T, alone or with all others.
    pub conversions: u64,
    /// How often its scratchpad was copied to EEPROM.
    pub copies: u64,
    /// Whether it reported parasite power; none if its power supply was not read.
    pub is_parasite: Option<bool>,
    /// Values that byte 6 of its scratchpad had, in hexadecimal. No datasheet promises what they mean.
    pub byte_6: Vec<String>,
}

impl SensorReport {
    pub(super) fn of(who: Who, known: &Known) -> Self {
        Self {
            rom: who.name(),
            part: match who {
                Who::Sensor(rom) => rom.family().map(Family::part),
                Who::Nameless => None,
            },
            found: known.found,
            addressed: known.addressed,
            reads: known.reads,
            bad_reads: known.bad_reads,
            last_celsius: known.last.map(|number| decimal_sixteenths(number.sixteenths)),
            bits: known.last.and_then(|number| number.bits),
            conversions: known.conversions,
            copies: known.copies,
            is_parasite: known.is_parasite,
            byte_6: known.byte_6.iter().map(|byte| format!("{byte:02X}h")).collect(),
        }
    }
}
