//! All sensors on the pin, with a mask of them for each place of a ROM code.

use core::fmt;

use crate::part::RomCode;
use crate::sensor::{Power, Sensor, SensorConfig, SensorState};

/// Most sensors on one pin: a mask of them is a word.
pub const MOST_SENSORS: usize = 32;

/// Why a sensor is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum SensorError {
    /// There are [`MOST_SENSORS`] already.
    Full,
    /// There is no sensor of this number.
    Unknown {
        /// The number.
        index: u8,
    },
    /// Parasite power cannot be played from a driven pin.
    ParasitePower,
    /// A temperature that the converter does not have: it ends at -55 and +125 degC.
    OutOfRange {
        /// The temperature.
        sixteenths: i16,
    },
}

impl fmt::Display for SensorError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Full => write!(f, "there are {MOST_SENSORS} sensors already"),
            Self::Unknown { index } => write!(f, "there is no sensor {index}"),
            Self::ParasitePower => write!(f, "parasite power cannot be played"),
            Self::OutOfRange { sixteenths } => {
                write!(f, "{sixteenths} sixteenths of a degree are outside -55 to +125 degC")
            }
        }
    }
}

impl core::error::Error for SensorError {}

/// The sensors. A number is a bit of a mask.
#[derive(Clone, Debug)]
pub struct Sensors {
    all: [Option<Sensor>; MOST_SENSORS],
    /// Sensors whose ROM code has a 1 at a place.
    ones: [u32; 64],
    plugged: u32,
    /// Sensors for which there may be something to settle.
    pending: u32,
    /// Where [`Self::settle_next`] goes on.
    cursor: u8,
}

impl Default for Sensors {
    fn default() -> Self {
        Self::new()
    }
}

/// The numbers in a mask.
pub(crate) fn numbers(mask: u32) -> impl Iterator<Item = u8> {
    let mut rest = mask;
    core::iter::from_fn(move || {
        let index = rest.trailing_zeros();
        rest &= rest.wrapping_sub(1);
        (index < 32).then_some(index as u8)
    })
}

impl Sensors {
    /// None yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { all: [None; MOST_SENSORS], ones: [0; 64], plugged: 0, pending: 0, cursor: 0 }
    }

    /// Adds a sensor, which comes up plugged in, and gives its number. It takes part from the next reset on.
    ///
    /// # Errors
    /// [`SensorError`] for one that cannot be played.
    pub fn add(&mut self, config: SensorConfig) -> Result<u8, SensorError> {
        if config.power == Power::Parasite {
            return Err(SensorError::ParasitePower);
        }
        check_range(config.sixteenths)?;
        let (index, place) =
            self.all.iter_mut().enumerate().find(|(_, place)| place.is_none()).ok_or(SensorError::Full)?;
        let mut sensor = Sensor::new(config);
        sensor.power_up();
        *place = Some(sensor);
        self.write_masks(index as u8, Some(config.rom));
        Ok(index as u8)
    }

    /// Removes a sensor; its number is free again.
    ///
    /// # Errors
    /// [`SensorError::Unknown`].
    pub fn remove(&mut self, index: u8) -> Result<(), SensorError> {
        let place = self.all.get_mut(usize::from(index)).ok_or(SensorError::Unknown { index })?;
        place.take().ok_or(SensorError::Unknown { index })?;
        self.write_masks(index, None);
        Ok(())
    }

    /// Removes all.
    pub(crate) fn clear(&mut self) {
        self.all.iter_mut().for_each(|place| *place = None);
        self.ones.fill(0);
        (self.plugged, self.pending, self.cursor) = (0, 0, 0);
    }

    fn write_masks(&mut self, index: u8, rom: Option<RomCode>) {
        let bit = 1_u32 << (index & 31);
        for (place, ones) in (0..64).zip(&mut self.ones) {
            let one = rom.is_some_and(|rom| rom.bit(place));
            *ones = if one { *ones | bit } else { *ones & !bit };
        }
        self.plugged = if rom.is_some() { self.plugged | bit } else { self.plugged & !bit };
        self.pending &= !bit;
    }

    /// Takes a sensor off the line, or puts it back: it comes up from its power-on state.
    ///
    /// # Errors
    /// [`SensorError::Unknown`].
    pub fn plug(&mut self, index: u8, plugged: bool) -> Result<(), SensorError> {
        let bit = 1_u32 << (index & 31);
        let sensor = self.get_mut(index)?;
        if plugged {
            sensor.power_up();
        }
        self.plugged = if plugged { self.plugged | bit } else { self.plugged & !bit };
        Ok(())
    }

    /// Sets the temperature that the next conversion ends with.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] beyond -55 and +125 degC, [`SensorError::Unknown`].
    pub fn set_sixteenths(&mut self, index: u8, sixteenths: i16) -> Result<(), SensorError> {
        check_range(sixteenths)?;
        self.get_mut(index)?.config.sixteenths = sixteenths;
        Ok(())
    }

    /// Sets the conversion times at 9, 10, 11 and 12 bits; they hold from the next conversion on.
    ///
    /// # Errors
    /// [`SensorError::Unknown`].
    pub fn set_conversion_us(&mut self, index: u8, conversion_us: [u32; 4]) -> Result<(), SensorError> {
        self.get_mut(index)?.config.conversion_us = conversion_us;
        Ok(())
    }

    /// Writes TH and TL into the scratchpad, past the line.
    ///
    /// # Errors
    /// [`SensorError::Unknown`].
    pub fn set_limits(&mut self, index: u8, high: i8, low: i8) -> Result<(), SensorError> {
        let sensor = self.get_mut(index)?;
        sensor.write(0, high.cast_unsigned());
        sensor.write(1, low.cast_unsigned());
        self.pending |= 1 << (index & 31);
        Ok(())
    }

    /// Takes the supply of all sensors away and gives it back.
    pub fn power_cycle(&mut self) {
        self.all.iter_mut().flatten().for_each(Sensor::power_up);
        self.pending = 0;
    }

    /// What a sensor holds.
    ///
    /// # Errors
    /// [`SensorError::Unknown`].
    pub fn state(&self, index: u8) -> Result<SensorState, SensorError> {
        self.get(index).map(Sensor::state).ok_or(SensorError::Unknown { index })
    }

    /// Mask of the sensors that are plugged in.
    #[must_use]
    pub const fn plugged(&self) -> u32 {
        self.plugged
    }

    pub(crate) fn get(&self, index: u8) -> Option<&Sensor> {
        self.all.get(usize::from(index))?.as_ref()
    }

    fn get_mut(&mut self, index: u8) -> Result<&mut Sensor, SensorError> {
        self.all.get_mut(usize::from(index)).and_then(Option::as_mut).ok_or(SensorError::Unknown { index })
    }

    /// The sensors of a mask, one after the other, for work: there may be something to settle afterwards.
    pub(crate) fn each(&mut self, mask: u32, mut work: impl FnMut(u8, &mut Sensor)) {
        self.pending |= mask;
        for index in numbers(mask) {
            if let Ok(sensor) = self.get_mut(index) {
                work(index, sensor);
            }
        }
    }

    /// Sensors whose ROM code has a 1 at a place.
    pub(crate) fn ones_at(&self, place: u8) -> u32 {
        self.ones.get(usize::from(place)).copied().unwrap_or_default()
    }

    /// Settles what is due, up to `most` sensors; true if that was all.
    pub(crate) fn settle(&mut self, at: u64, most: u8) -> bool {
        let mut settled = 0;
        for index in numbers(self.pending) {
            let Ok(sensor) = self.get_mut(index) else { continue };
            if !sensor.is_due(at) {
                continue;
            }
            if settled == most {
                return false;
            }
            settled += 1;
            sensor.settle(at);
            if !sensor.is_busy() {
                self.pending &= !(1 << (index & 31));
            }
        }
        true
    }

    /// Settles the next sensor in turn if it is due; true if it was. Cheap enough between two samples of the pin.
    pub(crate) fn settle_next(&mut self, at: u64) -> bool {
        let beyond = self.pending & u32::MAX.unbounded_shl(u32::from(self.cursor) + 1);
        let rest = if beyond == 0 { self.pending } else { beyond };
        let index = rest.trailing_zeros() as u8;
        self.cursor = index & 31;
        let Ok(sensor) = self.get_mut(index) else { return false };
        if !sensor.is_due(at) {
            return false;
        }
        sensor.settle(at);
        if !sensor.is_busy() {
            self.pending &= !(1 << (index & 31));
        }
        true
    }

    /// When the work of all of a mask ends; 0 without work.
    pub(crate) fn ends(&self, mask: u32) -> u64 {
        numbers(mask & self.pending).filter_map(|index| self.get(index)).map(Sensor::ends).fold(0, u64::max)
    }

    /// Those of a mask with a raised alarm.
    pub(crate) fn alarmed(&self, mask: u32) -> u32 {
        numbers(mask)
            .filter(|index| self.get(*index).is_some_and(|sensor| sensor.alarm))
            .fold(0, |mask, index| mask | 1 << index)
    }

    /// Lets a stuck conversion end.
    pub(crate) fn unstick(&mut self, index: u8) {
        if let Ok(sensor) = self.get_mut(index) {
            sensor.unstick();
        }
    }
}

const fn check_range(sixteenths: i16) -> Result<(), SensorError> {
    if sixteenths < -55 * 16 || sixteenths > 125 * 16 {
        return Err(SensorError::OutOfRange { sixteenths });
    }
    Ok(())
}
