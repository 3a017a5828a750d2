//! Convert T: starting it, and the one core that every way of waiting shares.

use super::{Evidence, Family, Resolution};
use crate::bus::{Bus, SelectError, Target};
use crate::line::{Line, LineError};

/// Function commands (DS18B20 datasheet (7/19), Table 3).
const CONVERT: u8 = 0x44;
const READ_POWER_SUPPLY: u8 = 0xB4;

/// Wait between two looks at a converting sensor. Each look is one read slot, the first and the last are three.
const POLL_US: u32 = 1_000;

/// How sensors are powered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Supply {
    /// By a supply wire of their own.
    Local,
    /// From the line: at least one of those asked.
    Parasite,
}

/// Why the power mode could not be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[error(transparent)]
pub struct ReadPowerError<E: core::fmt::Debug>(#[from] pub SelectError<E>);

impl<E: core::fmt::Debug> From<LineError<E>> for ReadPowerError<E> {
    fn from(error: LineError<E>) -> Self {
        Self(error.into())
    }
}

/// Asks `target` for its power mode (Read Power Supply). One parasite-powered sensor makes the answer
/// [`Supply::Parasite`] for all. Silence reads as [`Supply::Local`], so ask nobody who may be missing;
/// [`Thermometer::supply`](super::Thermometer::supply) makes sure.
///
/// # Errors
/// [`ReadPowerError`] if nobody could be spoken to.
pub fn supply<L: Line>(bus: &mut Bus<L>, target: Target) -> Result<Supply, ReadPowerError<L::Error>> {
    bus.transact(target, &[READ_POWER_SUPPLY], &mut [])?;
    Ok(if most_are_ones(bus)? { Supply::Local } else { Supply::Parasite })
}

/// Whether most of three read slots read 1. No CRC guards a state, and much depends on it: a sensor that is sent to work without power, or
/// an old number that looks like any other.
fn most_are_ones<L: Line>(bus: &mut Bus<L>) -> Result<bool, LineError<L::Error>> {
    Ok(bus.line().transfer_bits(0, 0, 3)?.count_ones() >= 2)
}

/// How the end of a conversion is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Wait {
    /// By read slots, once a millisecond; that it began, and that it is over, by three of them. Only for sensors on their own supply. As fast as the sensors really are, and
    /// the only way that sees a conversion take place.
    Poll,
    /// By the longest time the datasheet allows, then one look that all are done.
    Time,
    /// By the longest time the datasheet allows, with the strong pull-up closed. For sensors on parasite power; nobody can be
    /// spoken to meanwhile.
    StrongPullUp,
}

impl Wait {
    /// The way that suits this power mode.
    #[must_use]
    pub const fn suits(supply: Supply) -> Self {
        match supply {
            Supply::Local => Self::Poll,
            Supply::Parasite => Self::StrongPullUp,
        }
    }
}

/// Why there is no conversion to read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum ConvertError<E: core::fmt::Debug> {
    /// Nobody could be spoken to.
    #[error(transparent)]
    Select(#[from] SelectError<E>),
    /// No sensor was busy right after Convert T: none is converting, or it is on parasite power and cannot say so.
    #[error("no sensor started to convert")]
    NotStarted,
    /// A sensor was still busy after the longest time allowed, or, when polled, after a quarter more than that: a slow
    /// sensor is waited for, and [`Converted::busy_us`] says by how much it is too slow.
    #[error("still converting after {waited_us} us")]
    StillBusy {
        /// How long it was waited for.
        waited_us: u32,
    },
}

impl<E: core::fmt::Debug> From<LineError<E>> for ConvertError<E> {
    fn from(error: LineError<E>) -> Self {
        Self::Select(error.into())
    }
}

/// A conversion that is over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Converted {
    /// What was seen of it; pass it to [`Thermometer::read`](super::Thermometer::read).
    pub evidence: Evidence,
    /// When polled: how long the slowest sensor was busy, in microseconds, as the sum of waits and slots. It is up to one
    /// wait and slot too long, and too short by the time that interrupts took from the waiting code.
    pub busy_us: Option<u32>,
}

/// What to do next about a running conversion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Progress {
    /// Let this much time pass, in microseconds, then ask again.
    Wait {
        /// The time.
        us: u32,
    },
    /// It is over.
    Done(Converted),
}

/// A running conversion. Does not hold the bus: between two looks the caller may do as it likes, but must not use the
/// line for anything else, or polling sees what is not there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use = "a conversion must be waited for"]
pub struct Conversion {
    target: Target,
    wait: Wait,
    max_us: u32,
    waited_us: u32,
    seen_busy: bool,
}

impl Conversion {
    /// Sends Convert T to `target`, whose slowest sensor may take up to `max_us` ([`Family::conversion_max_us`], or
    /// [`CONVERSION_MAX_US`](super::CONVERSION_MAX_US) for any sensor).
    ///
    /// # Errors
    /// [`ConvertError::Select`] if nobody could be spoken to, or there is no strong pull-up where one is needed.
    pub fn start<L: Line>(
        bus: &mut Bus<L>,
        target: Target,
        wait: Wait,
        max_us: u32,
    ) -> Result<Self, ConvertError<L::Error>> {
        match wait {
            Wait::Poll | Wait::Time => bus.transact(target, &[CONVERT], &mut [])?,
            Wait::StrongPullUp => {
                bus.select(target)?;
                bus.line().write_byte_and_power(CONVERT)?;
            }
        }
        Ok(Self { target, wait, max_us, waited_us: 0, seen_busy: false })
    }

    /// The one core of all ways of waiting. `elapsed_us` is the time since the call before (0 on the first).
    ///
    /// # Errors
    /// [`ConvertError::NotStarted`], [`ConvertError::StillBusy`], or an error of the line.
    pub fn advance<L: Line>(&mut self, bus: &mut Bus<L>, elapsed_us: u32) -> Result<Progress, ConvertError<L::Error>> {
        self.waited_us = self.waited_us.saturating_add(elapsed_us);
        match self.wait {
            Wait::Poll => self.look(bus),
            Wait::Time | Wait::StrongPullUp if self.waited_us < self.max_us => {
                Ok(Progress::Wait { us: self.max_us - self.waited_us })
            }
            Wait::Time => {
                if bus.line().slot(true)? {
                    Ok(Progress::Done(Converted { evidence: Evidence::Waited, busy_us: None }))
                } else {
                    Err(ConvertError::StillBusy { waited_us: self.waited_us })
                }
            }
            Wait::StrongPullUp => {
                bus.line().end_power()?;
                Ok(Progress::Done(Converted { evidence: Evidence::Waited, busy_us: None }))
            }
        }
    }

    fn look<L: Line>(&mut self, bus: &mut Bus<L>) -> Result<Progress, ConvertError<L::Error>> {
        if Self::is_done(bus, !self.seen_busy)? {
            if !self.seen_busy {
                return Err(ConvertError::NotStarted);
            }
            // Of several sensors only the slowest is seen, so each of them is taken on trust.
            let evidence = match self.target {
                Target::All => Evidence::Waited,
                Target::One(_) => Evidence::SeenBusy,
            };
            return Ok(Progress::Done(Converted { evidence, busy_us: Some(self.waited_us) }));
        }
        self.seen_busy = true;
        // A quarter more than the datasheet allows: enough to say by how much a sensor is too slow.
        if self.waited_us > self.max_us.saturating_add(self.max_us / 4) {
            return Err(ConvertError::StillBusy { waited_us: self.waited_us });
        }
        Ok(Progress::Wait { us: POLL_US })
    }

    /// Whether read slots say that nobody is busy: by most of three, or, that nobody is any more, by all of them.
    fn is_done<L: Line>(bus: &mut Bus<L>, is_first: bool) -> Result<bool, LineError<L::Error>> {
        if is_first {
            return most_are_ones(bus);
        }
        Ok(bus.line().slot(true)? && bus.line().transfer_bits(0, 0, 2)? == 0b11)
    }

    /// What of the bus's time a look takes, beyond the wait before it.
    fn look_us<L: Line>(&self, bus: &mut Bus<L>) -> u32 {
        match self.wait {
            Wait::Poll => bus.line().slot_us(),
            Wait::Time | Wait::StrongPullUp => 0,
        }
    }

    /// Waits in the calling thread, by the line's own delay.
    ///
    /// # Errors
    /// As [`advance`](Self::advance).
    pub fn wait<L: Line>(mut self, bus: &mut Bus<L>) -> Result<Converted, ConvertError<L::Error>> {
        let mut elapsed_us = 0;
        loop {
            match self.advance(bus, elapsed_us)? {
                Progress::Done(converted) => return Ok(converted),
                Progress::Wait { us } => {
                    bus.line().delay_us(us);
                    elapsed_us = us + self.look_us(bus);
                }
            }
        }
    }

    /// Looks once, without waiting: for loops that poll several things. `elapsed_us` is the time since the call before
    /// by the caller's clock (0 on the first).
    ///
    /// # Errors
    /// `WouldBlock` while the conversion runs; otherwise as [`advance`](Self::advance).
    pub fn poll<L: Line>(
        &mut self,
        bus: &mut Bus<L>,
        elapsed_us: u32,
    ) -> nb::Result<Converted, ConvertError<L::Error>> {
        match self.advance(bus, elapsed_us) {
            Ok(Progress::Done(converted)) => Ok(converted),
            Ok(Progress::Wait { .. }) => Err(nb::Error::WouldBlock),
            Err(error) => Err(nb::Error::Other(error)),
        }
    }

    /// Waits without holding up other tasks, by an async delay. Only the slots that look at the sensors block.
    ///
    /// If the future is dropped, the strong pull-up is opened; the sensors' numbers are then old or undefined.
    ///
    /// # Errors
    /// As [`advance`](Self::advance).
    pub async fn wait_async<L: Line>(
        mut self,
        bus: &mut Bus<L>,
        delay: &mut impl embedded_hal_async::delay::DelayNs,
    ) -> Result<Converted, ConvertError<L::Error>> {
        let powered = Powered(bus);
        let mut elapsed_us = 0;
        loop {
            match self.advance(powered.0, elapsed_us)? {
                Progress::Done(converted) => return Ok(converted),
                Progress::Wait { us } => {
                    delay.delay_us(us).await;
                    elapsed_us = us + self.look_us(powered.0);
                }
            }
        }
    }
}

/// Opens the strong pull-up when a wait is given up half-way.
struct Powered<'a, L: Line>(&'a mut Bus<L>);

impl<L: Line> Drop for Powered<'_, L> {
    fn drop(&mut self) {
        // An error here has nowhere to go; the next reset opens the switch again and reports it.
        let _ = self.0.line().end_power();
    }
}

/// Converts for `target` and waits for it: [`Conversion::start`] and [`Conversion::wait`].
///
/// # Errors
/// As these two.
pub fn convert<L: Line>(
    bus: &mut Bus<L>,
    target: Target,
    wait: Wait,
    max_us: u32,
) -> Result<Converted, ConvertError<L::Error>> {
    Conversion::start(bus, target, wait, max_us)?.wait(bus)
}

/// The longest a conversion of any sensor may take: 750 ms, at 12 bits.
pub const CONVERSION_MAX_US: u32 = Family::Ds18b20.conversion_max_us(Resolution::Bits12);
