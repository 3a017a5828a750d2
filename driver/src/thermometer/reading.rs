//! A reading: a temperature with the evidence for it and the doubts about it.

use core::fmt;

use super::{Scratchpad, Settings, Temperature};

/// A reason not to trust a number that is otherwise intact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[repr(u8)]
#[non_exhaustive]
pub enum Doubt {
    /// It is the value after power-up, +85 degC, and nothing proves that this sensor was not reset, not even that it was seen
    /// busy: a reset in mid-conversion looks like its end. It may be a genuine +85 degC, which
    /// [`Thermometer::convert_proven`](super::Thermometer::convert_proven) finds out.
    PowerOnValue,
    /// No conversion is known to have been waited for: the number may be old.
    NoConversion,
    /// Bits that are undefined at this resolution were set. They are cleared in the temperature.
    UndefinedBits,
    /// Reserved bytes are not as in the datasheet: perhaps a look-alike part.
    ReservedBytes,
    /// Outside the operating range of the family.
    OutOfRange,
    /// The family code is shared by unlike parts, and the layout was taken to be a thermometer's.
    SharedFamily,
}

impl Doubt {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::PowerOnValue,
        Self::NoConversion,
        Self::UndefinedBits,
        Self::ReservedBytes,
        Self::OutOfRange,
        Self::SharedFamily,
    ];
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::PowerOnValue => "power-on value, perhaps not measured",
            Self::NoConversion => "no conversion waited for",
            Self::UndefinedBits => "undefined low bits set",
            Self::ReservedBytes => "reserved bytes unlike the datasheet",
            Self::OutOfRange => "outside the operating range",
            Self::SharedFamily => "family code shared by unlike parts",
        })
    }
}

/// A set of [`Doubt`]s.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(transparent))]
pub struct Doubts(u8);

impl Doubts {
    /// No doubt.
    pub const NONE: Self = Self(0);

    /// Adds one.
    pub const fn insert(&mut self, doubt: Doubt) {
        self.0 |= 1 << doubt as u8;
    }

    /// Takes one away.
    pub const fn remove(&mut self, doubt: Doubt) {
        self.0 &= !(1 << doubt as u8);
    }

    /// Whether this one is among them.
    #[must_use]
    pub const fn contains(self, doubt: Doubt) -> bool {
        self.0 & 1 << doubt as u8 != 0
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Each of them.
    pub fn iter(self) -> impl Iterator<Item = Doubt> {
        Doubt::ALL.into_iter().filter(move |doubt| self.contains(*doubt))
    }
}

#[cfg(feature = "serde")]
impl<'de> serde::Deserialize<'de> for Doubts {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        use serde::de::{Error, Unexpected};
        const KNOWN: u8 = u8::MAX >> (8 - Doubt::ALL.len());
        let bits = u8::deserialize(deserializer)?;
        if bits & !KNOWN == 0 {
            Ok(Self(bits))
        } else {
            Err(D::Error::invalid_value(Unexpected::Unsigned(bits.into()), &"a set of known doubts"))
        }
    }
}

/// What is known of the conversion behind a reading.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Evidence {
    /// None was waited for.
    #[default]
    None,
    /// Convert T was sent and the longest conversion time has passed. Not known: whether this sensor received the command.
    Waited,
    /// This sensor alone was sent Convert T when no older conversion could be running, reported busy in several slots, and the longest conversion time has passed since. Not known:
    /// whether it lost its power meanwhile; then it holds the power-on value, which is doubted.
    SeenBusy,
    /// As [`SeenBusy`](Self::SeenBusy), or its alarm flag has changed with the limits; and it kept a mark through the conversion that a
    /// loss of power would have wiped out.
    Proven,
    /// Convert T was sent, a sensor reported busy, and then done sooner than the longest conversion time. Not known: whether that was the
    /// end. A pulse on the line that resets the sensors looks the same, and the number may then be old.
    Polled,
}

impl fmt::Display for Evidence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::None => "no conversion",
            Self::Waited => "waited for",
            Self::SeenBusy => "seen busy",
            Self::Proven => "proven",
            Self::Polled => "polled",
        })
    }
}

/// A temperature, with all that is needed to judge it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Reading {
    /// Temperature.
    pub temperature: Temperature,
    /// The sensor's alarm limits and resolution at that time.
    pub settings: Settings,
    /// What is known of the conversion behind it.
    pub evidence: Evidence,
    /// Reasons not to trust it. Empty on a good reading.
    pub doubts: Doubts,
    /// The bytes it was decoded from.
    pub scratchpad: Scratchpad,
}

impl Reading {
    /// Whether there is no doubt about it.
    #[must_use]
    pub const fn is_trusted(&self) -> bool {
        self.doubts.is_empty()
    }
}
