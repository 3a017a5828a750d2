//! Proof that a sensor was not reset while it converted: the one way to trust a genuine +85 degC.
//!
//! A supply that dips in mid-conversion resets a sensor. Its temperature register then holds the power-on value, and to a
//! master that polls, the reset looks like the end of the conversion. But a reset also recalls the alarm limits from EEPROM.
//! So limits that differ from those in the EEPROM are a mark: if they are still there after a conversion that was seen, there
//! was no reset, and the number was measured.

use super::{
    AlarmLimits, ConvertError, DecodeError, Evidence, Reading, SaveError, Settings, Thermometer, Wait, WriteError,
};
use super::{ReadError, convert};
use crate::bus::{Bus, Target};
use crate::line::Line;

/// Why nothing could be proven.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum ProveError<E: core::fmt::Debug> {
    /// The sensor could not be read, or its EEPROM not be recalled.
    #[error(transparent)]
    Recall(#[from] SaveError<E>),
    /// The mark, or the settings after it, did not take.
    #[error(transparent)]
    Write(#[from] WriteError<E>),
    /// The conversion failed.
    #[error(transparent)]
    Convert(#[from] ConvertError<E>),
    /// The number could not be read.
    #[error(transparent)]
    Read(#[from] ReadError<E>),
}

impl<E: core::fmt::Debug> From<DecodeError> for ProveError<E> {
    fn from(error: DecodeError) -> Self {
        Self::Read(error.into())
    }
}

impl Thermometer {
    /// Converts for this sensor alone and reads it, with proof that it was not reset meanwhile: the reading's evidence is
    /// [`Evidence::Proven`]. If it was reset, the evidence is [`Evidence::None`], and the doubts say so.
    ///
    /// On parasite power, where nobody can be seen busy, a sensor that held the power-on value before stays in doubt; have
    /// it measure another temperature first. The settings in the scratchpad are the same afterwards, and the EEPROM is not written.
    /// The alarm flag is down, whatever the limits: convert again before an alarm search. Takes four
    /// transactions more than [`convert`](super::convert) and [`read`](Self::read), so use it for what they leave in doubt.
    ///
    /// # Errors
    /// [`ProveError`]. The sensor may then be left with the mark as its alarm limits, until power-down.
    pub fn convert_proven<L: Line>(
        &self,
        bus: &mut Bus<L>,
        wait: Wait,
        max_us: u32,
    ) -> Result<Reading, ProveError<L::Error>> {
        let scratchpad = self.read_scratchpad(bus)?;
        let before = scratchpad.decode(self.family())?.settings;
        let had_power_on_value = scratchpad.raw() == self.family().power_on_raw();
        let stored = self.recall(bus)?;
        let mark = mark_beside(stored.limits);
        self.write(bus, Settings { limits: mark, ..before })?;
        let converted = convert(bus, Target::One(self.rom()), wait, max_us);
        let scratchpad = self.read_scratchpad(bus);
        self.write(bus, before)?;
        let converted = converted?;
        let scratchpad = scratchpad?;
        // A sensor that never heard Convert T keeps the mark as well: it must have been seen busy, or the number be a new one.
        let is_new = converted.evidence == Evidence::SeenBusy || !had_power_on_value;
        let evidence = match (scratchpad.limits() == mark, is_new) {
            (true, true) => Evidence::Proven,
            (true, false) => converted.evidence,
            (false, _) => Evidence::None,
        };
        let reading = self.interpret(scratchpad, evidence)?;
        Ok(Reading { settings: before, ..reading })
    }
}

/// Limits that no temperature meets, and that differ from those in the EEPROM.
const fn mark_beside(stored: AlarmLimits) -> AlarmLimits {
    AlarmLimits {
        high: if stored.high == i8::MAX { i8::MAX - 1 } else { i8::MAX },
        low: if stored.low == i8::MIN { i8::MIN + 1 } else { i8::MIN },
    }
}
