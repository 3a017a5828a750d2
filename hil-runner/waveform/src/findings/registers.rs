//! The settings that a scratchpad and an EEPROM hold.

use std::fmt;

use slotwise::thermometer::Family;

use crate::decode::Bytes;
use crate::who::Who;

/// Bits of the configuration byte that can be written: R1 and R0 (DS18B20 datasheet (7/19), Figure 10).
const WRITABLE: u8 = 0x60;

/// TH, TL, and the configuration byte if the part has one. They are the same if what can be written of them is.
#[derive(Clone, Copy, Debug)]
pub(super) struct Registers {
    limits: [u8; 2],
    configuration: Option<u8>,
}

impl Registers {
    /// As they are written. None if there are not even two bytes.
    pub(super) fn new(bytes: &[u8]) -> Option<Self> {
        match bytes {
            [high, low, rest @ ..] => Some(Self { limits: [*high, *low], configuration: rest.first().copied() }),
            _ => None,
        }
    }

    /// What this sensor takes of them.
    pub(super) fn of(self, who: Who) -> Self {
        if has_configuration(who) { self } else { self.without_configuration() }
    }

    /// TH and TL alone.
    pub(super) const fn without_configuration(self) -> Self {
        Self { configuration: None, ..self }
    }

    /// The configuration byte, if there is one.
    pub(super) const fn configuration(self) -> Option<u8> {
        self.configuration
    }
}

impl PartialEq for Registers {
    fn eq(&self, other: &Self) -> bool {
        let writable = |of: &Self| of.configuration.map(|byte| byte & WRITABLE);
        self.limits == other.limits && writable(self) == writable(other)
    }
}

impl Eq for Registers {}

impl fmt::Display for Registers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Bytes(self.limits.into_iter().chain(self.configuration).collect()).fmt(f)
    }
}

/// The DS18S20 has no configuration register (DS18S20 datasheet, Memory).
pub(super) fn has_configuration(who: Who) -> bool {
    who.family().is_none_or(Family::has_resolution)
}
