//! Convert T: starting it, and the one core that every way of waiting shares.

use super::{Evidence, Family, Receipt, Resolution};
use crate::bus::{Bus, SelectError, Target};
use crate::line::{Line, LineError};

/// Function commands (DS18B20 datasheet (7/19), Table 3).
pub(super) const CONVERT: u8 = 0x44;
const READ_POWER_SUPPLY: u8 = 0xB4;

/// Wait between two polls of a converting sensor. Each poll is one read slot, the first is five and the last is three.
const POLL_US: u32 = 1_000;

/// The number of slots in which a sensor that was started must report busy.
const BUSY_SLOTS: u8 = 5;
/// So many of them may read 1 for all that: a slot that the master misread.
const BUSY_MISREAD: u32 = 1;

/// The longest time that the datasheet allows, as this master's clock must count it: 1/32 more (chosen), so that a clock which is fast by
/// 3 % does not read a sensor too soon or cut off its power.
pub(super) const fn with_margin(max_us: u32) -> u32 {
    max_us.saturating_add(max_us / 32)
}

impl<L: Line> Bus<L> {
    /// Waits by the line's own delay until no conversion of before can be running: the longest conversion time of any sensor, if one
    /// was started on this bus and not waited for to its end. Returns at once if none was.
    ///
    /// A conversion counts as not waited for if its wait was given up or failed, and if its end was polled
    /// ([`Wait::Poll`]) sooner than the longest conversion time. A sensor that is still busy with it reports busy to the next Convert T,
    /// whether it has received that command or not.
    pub fn wait_until_idle(&mut self) {
        if self.may_convert() {
            self.line().delay_us(with_margin(CONVERSION_MAX_US));
            self.note_converting(false);
        }
    }

    /// Refuses what belongs to a conversion that another one has followed.
    pub(super) fn expect_conversion(&self, number: u32) -> Result<(), ConvertError<L::Error>> {
        if self.conversion() == number { Ok(()) } else { Err(ConvertError::Superseded) }
    }
}

/// Whether read slots right after Convert T read 0. The line rises between two slots, or they fail, so no single pulse reads like it.
pub(super) fn is_busy<L: Line>(bus: &mut Bus<L>) -> Result<bool, LineError<L::Error>> {
    Ok(bus.line().transfer_bits(0, 0, BUSY_SLOTS)?.count_ones() <= BUSY_MISREAD)
}

/// How sensors are powered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Supply {
    /// By a supply wire of their own.
    Local,
    /// From the line: at least one of those addressed.
    Parasite,
}

/// Reads the power mode of `target` (Read Power Supply). One parasite-powered sensor makes the answer
/// [`Supply::Parasite`] for all. A sensor that is missing reads as [`Supply::Local`];
/// [`Thermometer::supply`](super::Thermometer::supply) makes sure that it is there.
///
/// # Errors
/// [`SelectError`] if no sensor could be addressed.
pub fn supply<L: Line>(bus: &mut Bus<L>, target: Target) -> Result<Supply, SelectError<L::Error>> {
    bus.transact(target, &[READ_POWER_SUPPLY], &mut [])?;
    Ok(if most_are_ones(bus)? { Supply::Local } else { Supply::Parasite })
}

/// Whether most of three read slots read 1. No CRC guards a state, and much depends on it: a conversion without power, or
/// an old number that looks like any other.
fn most_are_ones<L: Line>(bus: &mut Bus<L>) -> Result<bool, LineError<L::Error>> {
    Ok(bus.line().transfer_bits(0, 0, 3)?.count_ones() >= 2)
}

/// How the end of a conversion is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Wait {
    /// By read slots, once a millisecond, until the sensors report done. Only for sensors on their own supply. As fast as the sensors
    /// really are, but a pulse on the line that resets them ends the wait too.
    Poll,
    /// By the longest time the datasheet allows, then one read slot that all are done.
    Time,
    /// By the longest time the datasheet allows, with the strong pull-up closed. For sensors on parasite power; none of them can answer
    /// meanwhile.
    StrongPullUp,
    /// By read slots as [`Poll`](Self::Poll), which also measures the conversion, and then for what is left of the longest time.
    PollAndTime,
}

impl Wait {
    /// The way that suits this power mode.
    #[must_use]
    pub const fn suits(supply: Supply) -> Self {
        match supply {
            Supply::Local => Self::PollAndTime,
            Supply::Parasite => Self::StrongPullUp,
        }
    }

    const fn polls(self) -> bool {
        matches!(self, Self::Poll | Self::PollAndTime)
    }
}

/// Whether read slots say that no sensor is busy any more: three of three, as one that is misread must not end the wait.
pub(super) fn is_done<L: Line>(bus: &mut Bus<L>) -> Result<bool, LineError<L::Error>> {
    Ok(bus.line().slot(true)? && bus.line().transfer_bits(0, 0, 2)? == 0b11)
}

/// Why there is no conversion to read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum ConvertError<E: core::fmt::Debug> {
    /// No sensor could be addressed.
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
    /// Another conversion has begun on this bus since this one.
    #[error("another conversion has begun since")]
    Superseded,
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
#[non_exhaustive]
pub struct Converted {
    /// What was seen of it; pass it to [`Thermometer::read`](super::Thermometer::read).
    pub receipt: Receipt,
    /// When polled: how long the slowest sensor reported busy, in microseconds, as the sum of the times given to
    /// [`advance`](Conversion::advance). It is up to one wait and slot too long. Waited for by [`wait`](Conversion::wait), it is too short
    /// by the time that interrupts took from the waiting code; by [`wait_async`](Conversion::wait_async), which has no clock, by all the
    /// time that the delay took beyond what was required of it.
    pub busy_us: Option<u32>,
}

/// What to do next about a running conversion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Progress {
    /// Let this much time pass, in microseconds, then call it again.
    Wait {
        /// The time.
        us: u32,
    },
    /// It is over.
    Done(Converted),
}

/// A running conversion. Does not hold the bus: between two polls the caller may do as it likes, but must not use the
/// line for anything else, or polls read the answers to that.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use = "a conversion must be waited for"]
pub struct Conversion {
    target: Target,
    wait: Wait,
    max_us: u32,
    conversion: u32,
    waited_us: u32,
    busy_us: Option<u32>,
    /// No older conversion can have been running when it was started.
    began_idle: bool,
}

impl Conversion {
    /// Sends Convert T to `target`, whose slowest sensor may take up to `max_us` ([`Family::conversion_max_us`], or
    /// [`CONVERSION_MAX_US`](super::CONVERSION_MAX_US) for any sensor). If it is to be polled, reads at once that it is busy. Receipts of
    /// earlier conversions are refused from now on.
    ///
    /// Does not wait. If an older conversion may still be running ([`Bus::wait_until_idle`]), busy shows nothing of this one, and the
    /// evidence is [`Evidence::Waited`] where it would be [`Evidence::SeenBusy`].
    ///
    /// # Errors
    /// [`ConvertError::NotStarted`] if no sensor reports busy; [`ConvertError::Select`] if none could be addressed, or there is no
    /// strong pull-up where one is needed.
    pub fn start<L: Line>(
        bus: &mut Bus<L>,
        target: Target,
        wait: Wait,
        max_us: u32,
    ) -> Result<Self, ConvertError<L::Error>> {
        let conversion = bus.count_conversion();
        let began_idle = !bus.note_converting(true);
        match wait {
            Wait::Poll | Wait::PollAndTime | Wait::Time => bus.transact(target, &[CONVERT], &mut [])?,
            Wait::StrongPullUp => {
                bus.select(target)?;
                bus.line().write_byte_and_power(CONVERT)?;
            }
        }
        let mut waited_us = 0;
        if wait.polls() {
            if !is_busy(bus)? {
                return Err(ConvertError::NotStarted);
            }
            waited_us = u32::from(BUSY_SLOTS) * bus.line().slot_us();
        }
        Ok(Self { target, wait, max_us, conversion, waited_us, busy_us: None, began_idle })
    }

    /// How long it has reported busy, in microseconds, once a poll has found it done.
    #[must_use]
    pub const fn busy_us(&self) -> Option<u32> {
        self.busy_us
    }

    /// The one core of all ways of waiting. `elapsed_us` is the time since the call before, or since [`start`](Self::start).
    ///
    /// # Errors
    /// [`ConvertError::StillBusy`], [`ConvertError::Superseded`], or an error of the line.
    pub fn advance<L: Line>(&mut self, bus: &mut Bus<L>, elapsed_us: u32) -> Result<Progress, ConvertError<L::Error>> {
        bus.expect_conversion(self.conversion)?;
        self.waited_us = self.waited_us.saturating_add(elapsed_us);
        if self.wait.polls() && self.busy_us.is_none() {
            if !is_done(bus)? {
                // A quarter more than the datasheet allows: enough to say by how much a sensor is too slow.
                if self.waited_us > self.max_us.saturating_add(self.max_us / 4) {
                    return Err(ConvertError::StillBusy { waited_us: self.waited_us });
                }
                return Ok(Progress::Wait { us: POLL_US });
            }
            self.busy_us = Some(self.waited_us);
        }
        let left_us = with_margin(self.max_us).saturating_sub(self.waited_us);
        if left_us > 0 && self.wait != Wait::Poll {
            return Ok(Progress::Wait { us: left_us });
        }
        match self.wait {
            Wait::StrongPullUp => bus.line().end_power()?,
            Wait::Time if !bus.line().slot(true)? => {
                return Err(ConvertError::StillBusy { waited_us: self.waited_us });
            }
            Wait::Time | Wait::Poll | Wait::PollAndTime => {}
        }
        // Of several sensors only the slowest is seen, so no evidence is of any one of them.
        let evidence = match (self.wait, self.target) {
            (Wait::Poll, _) if left_us > 0 => Evidence::Polled,
            (Wait::Poll | Wait::PollAndTime, Target::One(_)) if self.began_idle => Evidence::SeenBusy,
            _ => Evidence::Waited,
        };
        bus.note_converting(left_us > 0);
        let receipt = Receipt::new(self.target, self.conversion, evidence);
        Ok(Progress::Done(Converted { receipt, busy_us: self.busy_us }))
    }

    /// What of the bus's time a poll takes, beyond the wait before it.
    fn poll_us<L: Line>(&self, bus: &mut Bus<L>) -> u32 {
        if self.wait.polls() && self.busy_us.is_none() { bus.line().slot_us() } else { 0 }
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
                    elapsed_us = us + self.poll_us(bus);
                }
            }
        }
    }

    /// Polls once, without waiting: for loops that have other things to do. `elapsed_us` is the time since the call before, or since
    /// [`start`](Self::start), by the caller's clock. A loop that comes back late loses nothing.
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

    /// Waits without holding up other tasks, by an async delay. Only the slots that poll the sensors block.
    ///
    /// If the future is dropped, polled or not, the strong pull-up is opened. Sensors on parasite power then lose their supply in
    /// mid-conversion: they may keep the old number or hold the power-on value, so convert again before reading.
    ///
    /// # Errors
    /// As [`advance`](Self::advance).
    pub fn wait_async<'a, L: Line, D: embedded_hal_async::delay::DelayNs>(
        mut self,
        bus: &'a mut Bus<L>,
        delay: &'a mut D,
    ) -> impl Future<Output = Result<Converted, ConvertError<L::Error>>> + use<'a, L, D> {
        // Here and not in the future's body, which does not run before the first poll.
        let powered = Powered(bus);
        async move {
            let powered = powered;
            let mut elapsed_us = 0;
            loop {
                match self.advance(powered.0, elapsed_us)? {
                    Progress::Done(converted) => return Ok(converted),
                    Progress::Wait { us } => {
                        delay.delay_us(us).await;
                        elapsed_us = us + self.poll_us(powered.0);
                    }
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

/// Converts for `target` and waits for it: [`Conversion::start`] and [`Conversion::wait`]. Where the evidence depends on it, an older
/// conversion is waited out first ([`Bus::wait_until_idle`]).
///
/// # Errors
/// As these two.
pub fn convert<L: Line>(
    bus: &mut Bus<L>,
    target: Target,
    wait: Wait,
    max_us: u32,
) -> Result<Converted, ConvertError<L::Error>> {
    if wait == Wait::PollAndTime {
        bus.wait_until_idle();
    }
    Conversion::start(bus, target, wait, max_us)?.wait(bus)
}

/// The longest a conversion of any sensor may take: 750 ms, at 12 bits.
pub const CONVERSION_MAX_US: u32 = Family::Ds18b20.conversion_max_us(Resolution::Bits12);
