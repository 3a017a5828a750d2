//! One thermometer on the line: reading it, and setting it up.

use super::conversion::{Supply, is_done, supply, with_margin};
use super::{
    AlarmLimits, DecodeError, Doubt, Evidence, Family, FrameError, Reading, Receipt, Resolution, Scratchpad, Settings,
};
use crate::bus::{Bus, FamilyCode, RomCode, SelectError, Target};
use crate::error::Error;
use crate::line::{Line, LineError};

/// Function commands (DS18B20 datasheet (7/19), Table 3).
const READ_SCRATCHPAD: u8 = 0xBE;
const COPY_SCRATCHPAD: u8 = 0x48;
const RECALL: u8 = 0xB8;

/// Longest EEPROM write cycle tWR (DS18B20 datasheet (7/19), NV table).
const EEPROM_WRITE_MAX_US: u32 = 10_000;
/// Spacing of the polls of a sensor that is busy with its EEPROM.
const EEPROM_POLL_US: u32 = 500;
/// How many such polls. No time is given for a recall; after ten write cycles something is wrong.
const EEPROM_POLLS: u32 = 200;

/// How often a recall is tried, each time beside other alarm limits.
const RECALLS: u8 = 2;

/// A ROM code whose family this driver does not decode.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[error("family {0} is not supported by this driver")]
pub struct UnknownFamily(pub FamilyCode);

/// Why a sensor could not be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum ReadError<E: core::fmt::Debug> {
    /// No sensor could be addressed.
    #[error(transparent)]
    Select(#[from] SelectError<E>),
    /// What was received is no scratchpad. [`FrameError::NoAnswer`] means that this sensor is missing.
    #[error(transparent)]
    Frame(#[from] FrameError),
    /// The scratchpad is intact, but holds no temperature.
    #[error(transparent)]
    Decode(#[from] DecodeError),
    /// The receipt is of another sensor, or of a conversion that another one has followed. Nothing was read.
    #[error("the receipt is not of this sensor's last conversion")]
    OtherReceipt,
}

/// What saving did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Saved {
    /// The EEPROM held these settings already and was not written.
    Unchanged,
    /// The EEPROM was written, once.
    Written,
}

impl<E: core::fmt::Debug> From<LineError<E>> for ReadError<E> {
    fn from(error: LineError<E>) -> Self {
        Self::Select(error.into())
    }
}

/// One thermometer, known by its ROM code. Holds no line: several share one [`Bus`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(try_from = "RomCode", into = "RomCode")
)]
pub struct Thermometer {
    rom: RomCode,
    family: Family,
}

impl TryFrom<RomCode> for Thermometer {
    type Error = UnknownFamily;

    fn try_from(rom: RomCode) -> Result<Self, UnknownFamily> {
        Self::new(rom)
    }
}

impl From<Thermometer> for RomCode {
    fn from(thermometer: Thermometer) -> Self {
        thermometer.rom
    }
}

impl Thermometer {
    /// The thermometer with this ROM code.
    ///
    /// # Errors
    /// [`UnknownFamily`] if this driver does not decode its family.
    pub const fn new(rom: RomCode) -> Result<Self, UnknownFamily> {
        match Family::of(rom) {
            Some(family) => Ok(Self { rom, family }),
            None => Err(UnknownFamily(rom.family())),
        }
    }

    /// Its ROM code.
    #[must_use]
    pub const fn rom(&self) -> RomCode {
        self.rom
    }

    /// Its family.
    #[must_use]
    pub const fn family(&self) -> Family {
        self.family
    }

    /// Reads the scratchpad: nine bytes with a CRC that is right.
    ///
    /// # Errors
    /// [`ReadError::Select`] or [`ReadError::Frame`].
    pub fn read_scratchpad<L: Line>(&self, bus: &mut Bus<L>) -> Result<Scratchpad, ReadError<L::Error>> {
        let mut bytes = [0; 9];
        // A transaction, whose two halves use the stack one after the other here, and not on top of a third frame.
        bus.reset()?;
        bus.address(&Target::One(self.rom), &[READ_SCRATCHPAD], &mut bytes)?;
        Ok(Scratchpad::new(bytes)?)
    }

    /// Reads the scratchpad twice: a damaged frame whose CRC is right by chance, one of 256, is not the same twice. A frame that the CRC
    /// shows to be damaged is read once more.
    pub(super) fn read_twice<L: Line>(&self, bus: &mut Bus<L>) -> Result<Scratchpad, Error<L::Error>> {
        let mut read = || match self.read_scratchpad(bus) {
            Err(ReadError::Frame(FrameError::Crc { .. })) => self.read_scratchpad(bus),
            outcome => outcome,
        };
        let first = read()?;
        if read()? == first { Ok(first) } else { Err(Error::ReadsDiffer) }
    }

    /// Reads the temperature of the last conversion. `receipt` is what waiting for it returned
    /// ([`Converted::receipt`](super::Converted::receipt), [`RoundOver::receipt`](super::RoundOver::receipt)), or [`Receipt::NONE`].
    ///
    /// Reading changes nothing in the sensor: after a [`FrameError`] read again a few times, then report the sensor.
    ///
    /// # Errors
    /// [`ReadError`] if there is no temperature. A doubtful one is returned, with
    /// [`Reading::doubts`].
    pub fn read<L: Line>(&self, bus: &mut Bus<L>, receipt: &Receipt) -> Result<Reading, ReadError<L::Error>> {
        if !self.is_receipt_valid(bus, receipt) {
            return Err(ReadError::OtherReceipt);
        }
        let scratchpad = self.read_scratchpad(bus)?;
        Ok(self.interpret(scratchpad, receipt.evidence())?)
    }

    /// Whether this receipt is of this sensor's last conversion, or of none.
    pub fn is_receipt_valid<L: Line>(&self, bus: &Bus<L>, receipt: &Receipt) -> bool {
        receipt.covers(&self.rom, bus.conversion())
    }

    /// Makes a reading of a scratchpad, as [`read`](Self::read) does. That the evidence is of this sensor and its last conversion is for
    /// the caller to ensure.
    ///
    /// # Errors
    /// [`DecodeError`] if the scratchpad holds no temperature of this family.
    pub fn interpret(&self, scratchpad: Scratchpad, evidence: Evidence) -> Result<Reading, DecodeError> {
        let decoded = scratchpad.decode(self.family)?;
        let mut doubts = decoded.doubts;
        if scratchpad.raw() == self.family.power_on_raw() && evidence != Evidence::Proven {
            doubts.insert(Doubt::PowerOnValue);
        }
        if evidence == Evidence::None {
            doubts.insert(Doubt::NoConversion);
        }
        Ok(Reading { temperature: decoded.temperature, settings: decoded.settings, evidence, doubts, scratchpad })
    }

    /// Reads alarm limits and resolution.
    ///
    /// # Errors
    /// As [`read`](Self::read).
    pub fn settings<L: Line>(&self, bus: &mut Bus<L>) -> Result<Settings, ReadError<L::Error>> {
        Ok(self.read_scratchpad(bus)?.decode(self.family)?.settings)
    }

    /// Writes alarm limits and resolution to the scratchpad and reads them back. They last until power-down; see
    /// [`save`](Self::save). A conversion after this uses them.
    ///
    /// # Errors
    /// [`Error::NotTaken`] if the sensor then holds something else; otherwise what went wrong on the way.
    pub fn write<L: Line>(&self, bus: &mut Bus<L>, settings: Settings) -> Result<(), Error<L::Error>> {
        if settings.resolution.is_some() != self.family.has_resolution() {
            return Err(Error::WrongSettings);
        }
        let command = settings.write_command(self.family);
        bus.transact(Target::One(self.rom), &command, &mut [])?;
        self.verify(bus, settings)
    }

    /// Reads the sensor and compares its settings with `wrote`. [`write`](Self::write) does this by itself.
    ///
    /// # Errors
    /// [`Error::NotTaken`] if they differ; otherwise as [`read`](Self::read).
    pub fn verify<L: Line>(&self, bus: &mut Bus<L>, wrote: Settings) -> Result<(), Error<L::Error>> {
        let found = self.settings(bus)?;
        if found == wrote { Ok(()) } else { Err(Error::NotTaken { wrote, found }) }
    }

    /// Sets the resolution and keeps the alarm limits. Returns what the sensor holds now.
    ///
    /// # Errors
    /// As [`write`](Self::write).
    pub fn set_resolution<L: Line>(
        &self,
        bus: &mut Bus<L>,
        resolution: Resolution,
    ) -> Result<Settings, Error<L::Error>> {
        let settings = Settings { resolution: Some(resolution), ..self.settings(bus)? };
        self.write(bus, settings)?;
        Ok(settings)
    }

    /// Sets the alarm limits and keeps the resolution. Returns what the sensor holds now.
    ///
    /// # Errors
    /// As [`write`](Self::write).
    pub fn set_limits<L: Line>(&self, bus: &mut Bus<L>, limits: AlarmLimits) -> Result<Settings, Error<L::Error>> {
        let settings = Settings { limits, ..self.settings(bus)? };
        self.write(bus, settings)?;
        Ok(settings)
    }

    /// Saves the settings to EEPROM, from where the sensor takes them at power-up; only if it holds others.
    ///
    /// What the EEPROM holds is found out by [`recall`](Self::recall), which costs no write cycle; a sensor has 50 000 of them (DS18B20
    /// datasheet (7/19), NV table). After a copy it is recalled again, so a sensor that misses the copy is named. On parasite power the
    /// strong pull-up is used, on its own supply the sensor is polled.
    ///
    /// # Errors
    /// [`Error::NotSaved`] if the EEPROM then holds something else; otherwise what went wrong on the way. The
    /// scratchpad may then hold the old settings, or what `recall` marks it with.
    pub fn save<L: Line>(&self, bus: &mut Bus<L>) -> Result<Saved, Error<L::Error>> {
        let wanted = self.settings(bus)?;
        if self.recall(bus)? == wanted {
            return Ok(Saved::Unchanged);
        }
        self.write(bus, wanted)?;
        match self.supply(bus)? {
            Supply::Parasite => {
                bus.select(Target::One(self.rom))?;
                bus.line().write_byte_and_power(COPY_SCRATCHPAD)?;
                bus.line().delay_us(with_margin(EEPROM_WRITE_MAX_US));
                bus.line().end_power()?;
            }
            Supply::Local => {
                bus.transact(Target::One(self.rom), &[COPY_SCRATCHPAD], &mut [])?;
                // Not every edition promises an answer to read slots here, so the longest time is waited out first.
                bus.line().delay_us(with_margin(EEPROM_WRITE_MAX_US));
                self.wait_ready(bus)?;
            }
        }
        let found = self.recall(bus)?;
        if found == wanted { Ok(Saved::Written) } else { Err(Error::NotSaved { wrote: wanted, found }) }
    }

    /// Recalls alarm limits and resolution from EEPROM, as the sensor does at power-up, and returns them.
    ///
    /// No time is given for a recall, so that a sensor reports busy shows nothing. Other alarm limits are written before it: if they are
    /// gone, the sensor has recalled. If they are not, the EEPROM may hold just these, so it is tried once more with others.
    ///
    /// # Errors
    /// [`Error::NotRecalled`] if the sensor did not carry out the command; its settings are then as before. [`Error::StaysBusy`] if it does
    /// not finish; otherwise what went wrong on the way. The alarm limits may then be those that were written before.
    pub fn recall<L: Line>(&self, bus: &mut Bus<L>) -> Result<Settings, Error<L::Error>> {
        let held = self.settings(bus)?;
        let mut mark = held.limits;
        for _ in 0..RECALLS {
            mark = AlarmLimits::never_beside(mark);
            self.write(bus, Settings { limits: mark, ..held })?;
            bus.transact(Target::One(self.rom), &[RECALL], &mut [])?;
            self.wait_ready(bus)?;
            let recalled = self.settings(bus)?;
            if recalled.limits != mark {
                return Ok(recalled);
            }
        }
        self.write(bus, held)?;
        Err(Error::NotRecalled)
    }

    /// How this sensor is powered. Reads it too: a sensor that is not there would seem to have its own supply.
    ///
    /// # Errors
    /// [`ReadError`] if it does not answer.
    pub fn supply<L: Line>(&self, bus: &mut Bus<L>) -> Result<Supply, ReadError<L::Error>> {
        let supply = supply(bus, Target::One(self.rom))?;
        self.read_scratchpad(bus)?;
        Ok(supply)
    }

    fn wait_ready<L: Line>(&self, bus: &mut Bus<L>) -> Result<(), Error<L::Error>> {
        for _ in 0..EEPROM_POLLS {
            if is_done(bus)? {
                return Ok(());
            }
            bus.line().delay_us(EEPROM_POLL_US);
        }
        Err(Error::StaysBusy)
    }
}
