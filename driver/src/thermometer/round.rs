//! A round: several sensors on their own supply convert at the same time, and each is seen to start.
//!
//! One Convert T to all is faster, but of many sensors that answer together only the slowest is seen: one that did not receive the
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

/// A round whose longest conversion time has passed. No sensor can be started in it any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct RoundOver {
    round: u32,
    /// A number of its own, which a sensor that is started later does not get.
    conversion: u32,
}

impl Round {
    /// Begins a round. Receipts of earlier conversions are refused from now on. A conversion that was given up is waited out
    /// first ([`Bus::wait_until_idle`]).
    pub fn begin<L: Line>(bus: &mut Bus<L>) -> Self {
        bus.wait_until_idle();
        Self { conversion: bus.count_conversion() }
    }

    /// Sends Convert T to one sensor and reads that it is busy.
    ///
    /// A sensor that was not seen busy may be started again: one that is converting already goes on, and a conversion that began in this
    /// round before it was seen is over no later.
    ///
    /// # Errors
    /// [`ConvertError::NotStarted`] if it does not report busy, as a sensor on parasite power cannot; [`ConvertError::Superseded`] if
    /// another conversion or round has begun on this bus, or this one was waited for; otherwise [`ConvertError::Select`].
    pub fn start<L: Line>(&self, bus: &mut Bus<L>, rom: RomCode) -> Result<Started, ConvertError<L::Error>> {
        bus.expect_conversion(self.conversion)?;
        bus.note_converting(true);
        bus.transact(Target::One(rom), &[CONVERT], &mut [])?;
        if is_busy(bus)? { Ok(Started { rom, conversion: self.conversion }) } else { Err(ConvertError::NotStarted) }
    }

    /// Waits by the line's own delay until the sensor that was started last must be done, with a margin for the master's clock.
    /// `max_us` is the longest conversion time of any of them. Ends the round: a sensor that is started in it afterwards is refused.
    ///
    /// # Errors
    /// [`ConvertError::Superseded`] if another conversion or round has begun on this bus, or this one was waited for already.
    pub fn wait<L: Line>(self, bus: &mut Bus<L>, max_us: u32) -> Result<RoundOver, ConvertError<L::Error>> {
        bus.expect_conversion(self.conversion)?;
        bus.line().delay_us(with_margin(max_us));
        Ok(self.end(bus))
    }

    /// The same for callers that wait by a clock of their own: `since_us` have passed since the last sensor was started.
    ///
    /// # Errors
    /// `WouldBlock` as long as the sensors may be converting; otherwise as [`wait`](Self::wait).
    pub fn poll<L: Line>(
        self,
        bus: &mut Bus<L>,
        since_us: u32,
        max_us: u32,
    ) -> nb::Result<RoundOver, ConvertError<L::Error>> {
        bus.expect_conversion(self.conversion)?;
        if since_us < with_margin(max_us) {
            return Err(nb::Error::WouldBlock);
        }
        Ok(self.end(bus))
    }

    fn end<L: Line>(self, bus: &mut Bus<L>) -> RoundOver {
        bus.note_converting(false);
        RoundOver { round: self.conversion, conversion: bus.count_conversion() }
    }
}

impl RoundOver {
    /// The receipt of a sensor that was started in this round; of one of another round, a receipt that is refused.
    #[must_use]
    pub const fn receipt(&self, started: Started) -> Receipt {
        // No conversion has the number 0.
        let conversion = if started.conversion == self.round { self.conversion } else { 0 };
        Receipt::new(Target::One(started.rom), conversion, Evidence::SeenBusy)
    }
}
