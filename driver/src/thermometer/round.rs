//! A round: several sensors on their own supply convert at the same time, and each is seen to start.
//!
//! One Convert T to all is faster, but of many sensors that answer together only the slowest is seen: one that did not hear the
//! command keeps its old number, which looks like any other. Here each sensor is addressed alone and its answer "busy" is read, while
//! those before it convert already; other traffic during conversions is allowed to sensors on their own supply (DS18B20 datasheet (7/19),
//! Powering the DS18B20). A reset by a pulse on the line ends only the answers to polls, not the conversion. So a number that is read no
//! sooner than the longest conversion time after "busy" is new, unless the sensor lost its power; then it is the power-on value, which
//! carries a doubt of its own.

use super::conversion::{CONVERT, is_busy, with_margin};
use super::{ConvertError, Evidence, Receipt};
use crate::bus::{Bus, RomCode, Target};
use crate::line::Line;

/// A round under way. Costs a reset and 85 slots per sensor, and the longest conversion time once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[must_use = "a round must be waited for"]
pub struct Round {
    conversion: u32,
}

/// A sensor that was seen busy after its own Convert T.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Started {
    rom: RomCode,
    conversion: u32,
}

impl Started {
    /// Its ROM code.
    #[must_use]
    pub const fn rom(&self) -> RomCode {
        self.rom
    }
}

/// A round whose longest conversion time has passed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct RoundOver {
    conversion: u32,
}

impl Round {
    /// Begins a round. Receipts of earlier conversions are refused from now on.
    pub fn begin<L: Line>(bus: &mut Bus<L>) -> Self {
        Self { conversion: bus.count_conversion() }
    }

    /// Sends Convert T to one sensor and reads that it is busy.
    ///
    /// A sensor that was not seen busy may be started again: one that is converting already goes on, and a conversion that began
    /// earlier than it was seen is over no later.
    ///
    /// # Errors
    /// [`ConvertError::NotStarted`] if it does not report busy, as a sensor on parasite power cannot; [`ConvertError::Superseded`] if
    /// another conversion or round has begun on this bus; otherwise [`ConvertError::Select`].
    pub fn start<L: Line>(&self, bus: &mut Bus<L>, rom: RomCode) -> Result<Started, ConvertError<L::Error>> {
        if bus.conversion() != self.conversion {
            return Err(ConvertError::Superseded);
        }
        bus.transact(Target::One(rom), &[CONVERT], &mut [])?;
        if is_busy(bus)? { Ok(Started { rom, conversion: self.conversion }) } else { Err(ConvertError::NotStarted) }
    }

    /// Waits by the line's own delay until the sensor that was started last must be done, with a margin for the master's clock.
    /// `max_us` is the longest conversion time of any of them.
    pub fn wait<L: Line>(self, bus: &mut Bus<L>, max_us: u32) -> RoundOver {
        bus.line().delay_us(with_margin(max_us));
        RoundOver { conversion: self.conversion }
    }

    /// The same for callers that wait by a clock of their own: `since_us` have passed since the last sensor was started.
    ///
    /// # Errors
    /// The time that is left, in microseconds.
    pub const fn wait_until(self, since_us: u32, max_us: u32) -> Result<RoundOver, u32> {
        match with_margin(max_us).checked_sub(since_us) {
            None | Some(0) => Ok(RoundOver { conversion: self.conversion }),
            Some(left_us) => Err(left_us),
        }
    }
}

impl RoundOver {
    /// The receipt of a sensor that was started in this round; of one of another round, a receipt that is refused.
    #[must_use]
    pub const fn receipt(&self, started: Started) -> Receipt {
        // No conversion has the number 0.
        let conversion = if started.conversion == self.conversion { self.conversion } else { 0 };
        Receipt::new(Target::One(started.rom), conversion, Evidence::SeenBusy)
    }
}
