//! The one error that every operation's error converts into.

use crate::bus::{RomError, SearchError, SelectError};
use crate::line::{LineError, SetupError, SwitchError, TimingError};
use crate::thermometer::{ConvertError, DecodeError, FrameError, ReadError, Settings, UnknownFamily};

/// Why an operation of this driver failed: all that can happen, in one flat type. `E` is the error of the master's pins or port.
///
/// Operations made of several others return it. The basic ones return a type of their own, which lists what can happen there and
/// converts into this one by `?`; nothing is lost on the way. A program that only decides what to do next needs no more
/// than the [`kind`](Self::kind).
///
/// ```
/// use embedded_hal::delay::DelayNs;
/// use embedded_hal::digital::{InputPin, OutputPin};
/// use slotwise::bus::{Bus, Roster, SearchScope, Target};
/// use slotwise::line::{PinLine, Timing};
/// use slotwise::thermometer::{Thermometer, supply};
/// use slotwise::{Error, ErrorKind};
///
/// fn list<P: InputPin + OutputPin>(pin: P, delay: impl DelayNs) -> Result<(), Error<P::Error>> {
///     let mut bus = Bus::new(PinLine::new(pin, delay, Timing::SHORT_LINE)?);
///     let mut roster = Roster::<8>::new();
///     bus.find(&mut roster, SearchScope::All)?;
///     println!("power: {:?}", supply(&mut bus, Target::All)?);
///     for &rom in roster.iter() {
///         println!("{rom}: {:?}", Thermometer::new(rom)?.settings(&mut bus)?);
///     }
///     Ok(())
/// }
///
/// fn is_worth_another_try<E: core::fmt::Debug>(error: &Error<E>) -> bool {
///     matches!(error.kind(), ErrorKind::Damaged | ErrorKind::NoAnswer)
/// }
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum Error<E: core::fmt::Debug> {
    /// The line failed, or the master's access to it.
    #[error(transparent)]
    Line(#[from] LineError<E>),
    /// The line is sound, but no sensor answered the reset.
    #[error("{}", SelectError::<E>::NoPresence)]
    NoPresence,
    /// Sensors answered the reset and then none answered the search at this bit, in a place where some must be.
    #[error("{}", SearchError::<E>::Silent { bit: *bit })]
    Silent {
        /// Position of the bit, from 0.
        bit: u8,
    },
    /// A pass of a search did not lead where the pass before it says it must.
    #[error("{}", SearchError::<E>::Inconsistent { bit: *bit })]
    Inconsistent {
        /// Position of the bit, from 0.
        bit: u8,
    },
    /// There were more passes than a line can have sensors.
    #[error("{}", SearchError::<E>::Endless)]
    Endless,
    /// A search, or reading the ROM code of a sensor that should be alone, ended in bits that are no ROM code. With several sensors it
    /// is the wired-AND of theirs.
    #[error("{}", SearchError::<E>::Rom(*.0))]
    Rom(#[from] RomError),
    /// There are more sensors than places for them.
    #[error("more than {capacity} sensors on the line: the roster is full")]
    Full {
        /// Number of places.
        capacity: usize,
    },
    /// This driver does not decode the sensor's family.
    #[error(transparent)]
    Family(#[from] UnknownFamily),
    /// What was received is no scratchpad. [`FrameError::NoAnswer`] means that this sensor is missing.
    #[error(transparent)]
    Frame(#[from] FrameError),
    /// The scratchpad is intact, but holds no temperature.
    #[error(transparent)]
    Decode(#[from] DecodeError),
    /// No sensor was busy right after Convert T: none is converting, or it is on parasite power and cannot say so.
    #[error("{}", ConvertError::<E>::NotStarted)]
    NotStarted,
    /// A sensor was still busy after the longest time allowed.
    #[error("{}", ConvertError::<E>::StillBusy { waited_us: *waited_us })]
    StillBusy {
        /// How long it was waited for.
        waited_us: u32,
    },
    /// A resolution was given for a family without one, or none for a family with one. Nothing was written.
    #[error("these settings are not for this family")]
    WrongSettings,
    /// The sensor was read back and holds something else: the write did not take.
    #[error("the write did not take: {wrote} written, {found} found")]
    NotTaken {
        /// What was written.
        wrote: Settings,
        /// What the sensor holds.
        found: Settings,
    },
    /// The sensor is still busy with its EEPROM long after it should be done.
    #[error("the sensor stays busy with its EEPROM")]
    StaysBusy,
    /// Copied, recalled and read back, the EEPROM holds something else.
    #[error("the save to EEPROM did not take: {wrote} written, {found} found")]
    NotSaved {
        /// What was to be saved.
        wrote: Settings,
        /// What the EEPROM holds.
        found: Settings,
    },
    /// Another conversion has begun on this bus since this one.
    #[error("{}", ConvertError::<E>::Superseded)]
    Superseded,
    /// The receipt is of another sensor, or of a conversion that another one has followed. Nothing was read.
    #[error("{}", ReadError::<E>::OtherReceipt)]
    OtherReceipt,
    /// The sensor did not carry out Recall: its scratchpad holds what was written just before, twice and each time something else.
    #[error("the sensor did not carry out Recall: it still holds what was written before")]
    NotRecalled,
    /// Two reads of the scratchpad have right CRCs and differ. One of them is damaged, or two sensors share this ROM code.
    #[error("two reads of the scratchpad differ")]
    ReadsDiffer,
    /// The timing set, or the calls of this chip, cannot keep the datasheet's limits.
    #[error(transparent)]
    Timing(#[from] TimingError),
    /// The counter that calls are measured by stands still, or counts too slowly to measure what they cost.
    #[error("{}", SetupError::<E>::Counter)]
    Counter,
}

/// What an [`Error`] means for the program: what has to change before another try can succeed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum ErrorKind {
    /// The line is electrically broken: stuck low, or too slow. Wiring, supply or pull-up must be mended.
    Line,
    /// The master failed: its pins or port, its counter, the switch of its strong pull-up, or it samples too late.
    Master,
    /// Bits were damaged on the way: a pulse of noise, a poor contact, two sensors at a time. Worth another try.
    Damaged,
    /// No sensor answered, or not this one. It may be missing, or have missed the command.
    NoAnswer,
    /// The sensor answered, undamaged, what no sensor of its family can: another part, or a defect.
    Impossible,
    /// No conversion took place, or it is not over.
    NotConverted,
    /// The sensor, or its EEPROM, does not hold the settings that it was given.
    NotTaken,
    /// The operation is not possible here: another family, settings of another family, no strong pull-up, too few places, a receipt of
    /// another conversion. The program must change.
    Refused,
}

impl<E: core::fmt::Debug> Error<E> {
    /// What it means for the program, in a few words that all errors share.
    #[must_use]
    pub const fn kind(&self) -> ErrorKind {
        match self {
            Self::Line(LineError::StuckLow | LineError::NeverIdleHigh)
            | Self::Rom(RomError::AllZeros)
            | Self::Frame(FrameError::AllZeros) => ErrorKind::Line,
            Self::Line(
                LineError::Master(_) | LineError::MasterTooLate | LineError::StrongPullUp(SwitchError::Pin(_)),
            )
            | Self::Counter => ErrorKind::Master,
            Self::Line(LineError::Disturbed)
            | Self::Inconsistent { .. }
            | Self::Endless
            | Self::Rom(RomError::NoFamily | RomError::Crc { .. })
            | Self::Frame(FrameError::Crc { .. })
            | Self::ReadsDiffer => ErrorKind::Damaged,
            Self::NoPresence
            | Self::Silent { .. }
            | Self::Rom(RomError::AllOnes)
            | Self::Frame(FrameError::NoAnswer) => ErrorKind::NoAnswer,
            Self::Decode(_) => ErrorKind::Impossible,
            Self::NotStarted | Self::StillBusy { .. } => ErrorKind::NotConverted,
            Self::NotTaken { .. } | Self::NotSaved { .. } | Self::NotRecalled | Self::StaysBusy => ErrorKind::NotTaken,
            Self::Line(LineError::StrongPullUp(SwitchError::Missing))
            | Self::Full { .. }
            | Self::Family(_)
            | Self::WrongSettings
            | Self::Superseded
            | Self::OtherReceipt
            | Self::Timing(_) => ErrorKind::Refused,
        }
    }
}

impl<E: core::fmt::Debug> From<SwitchError> for Error<E> {
    fn from(error: SwitchError) -> Self {
        Self::Line(error.into())
    }
}

impl<E: core::fmt::Debug> From<SetupError<E>> for Error<E> {
    fn from(error: SetupError<E>) -> Self {
        match error {
            SetupError::Timing(error) => Self::Timing(error),
            SetupError::Pin(error) => Self::Line(LineError::Master(error)),
            SetupError::Counter => Self::Counter,
        }
    }
}

impl<E: core::fmt::Debug> From<SelectError<E>> for Error<E> {
    fn from(error: SelectError<E>) -> Self {
        match error {
            SelectError::NoPresence => Self::NoPresence,
            SelectError::Line(error) => Self::Line(error),
        }
    }
}

impl<E: core::fmt::Debug> From<SearchError<E>> for Error<E> {
    fn from(error: SearchError<E>) -> Self {
        match error {
            SearchError::NoPresence => Self::NoPresence,
            SearchError::Silent { bit } => Self::Silent { bit },
            SearchError::Inconsistent { bit } => Self::Inconsistent { bit },
            SearchError::Rom(error) => Self::Rom(error),
            SearchError::Endless => Self::Endless,
            SearchError::Line(error) => Self::Line(error),
        }
    }
}

impl<E: core::fmt::Debug> From<ConvertError<E>> for Error<E> {
    fn from(error: ConvertError<E>) -> Self {
        match error {
            ConvertError::Select(error) => error.into(),
            ConvertError::NotStarted => Self::NotStarted,
            ConvertError::StillBusy { waited_us } => Self::StillBusy { waited_us },
            ConvertError::Superseded => Self::Superseded,
        }
    }
}

impl<E: core::fmt::Debug> From<ReadError<E>> for Error<E> {
    fn from(error: ReadError<E>) -> Self {
        match error {
            ReadError::Select(error) => error.into(),
            ReadError::Frame(error) => Self::Frame(error),
            ReadError::Decode(error) => Self::Decode(error),
            ReadError::OtherReceipt => Self::OtherReceipt,
        }
    }
}
