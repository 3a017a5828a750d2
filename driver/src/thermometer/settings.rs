//! What can be written to a sensor: alarm limits and resolution.

use core::fmt;

use super::{Family, Resolution};

/// Alarm limits in whole degrees Celsius: the TH and TL registers.
///
/// Sensors without alarms in use keep any two bytes of the user's here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct AlarmLimits {
    /// TL.
    pub low: i8,
    /// TH.
    pub high: i8,
}

/// How a sensor compares a temperature with its limits. Editions of the datasheets differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum AlarmRule {
    /// T >= TH or T <= TL (DS18B20 datasheet since 10/12/07).
    Inclusive,
    /// T > TH or T < TL (DS18B20, 20-page edition).
    Strict,
    /// T > TH or T <= TL (DS18S20, 23-page edition).
    InclusiveLow,
}

impl AlarmLimits {
    /// Limits that no temperature of these sensors meets, and that differ from `stored`: a mark beside what the EEPROM holds.
    #[must_use]
    pub const fn never_beside(stored: Self) -> Self {
        Self {
            high: if stored.high == i8::MAX { i8::MAX - 1 } else { i8::MAX },
            low: if stored.low == i8::MIN { i8::MIN + 1 } else { i8::MIN },
        }
    }

    /// Limits that every temperature of these sensors meets by each [`AlarmRule`], and that differ from `stored`.
    #[must_use]
    pub const fn always_beside(stored: Self) -> Self {
        let never = Self::never_beside(Self { low: stored.high, high: stored.low });
        Self { high: never.low, low: never.high }
    }

    /// Whether a conversion with this result sets the alarm flag. The result is
    /// [`Scratchpad::whole_degrees`](super::Scratchpad::whole_degrees). Limits count from the next conversion on (DS18B20
    /// datasheet (7/19), Alarm Signaling).
    #[must_use]
    pub const fn are_met_by(self, whole: i16, rule: AlarmRule) -> bool {
        let (low, high) = (self.low as i16, self.high as i16);
        match rule {
            AlarmRule::Inclusive => whole >= high || whole <= low,
            AlarmRule::Strict => whole > high || whole < low,
            AlarmRule::InclusiveLow => whole > high || whole <= low,
        }
    }
}

/// Function command (DS18B20 datasheet (7/19), Table 3).
const WRITE_SCRATCHPAD: u8 = 0x4E;

/// The writable registers of a sensor. Prints as `9 bits, TH 30, TL -5`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Settings {
    /// Alarm limits.
    pub limits: AlarmLimits,
    /// Resolution. `None` on a DS18S20, which has no register for it.
    pub resolution: Option<Resolution>,
}

impl fmt::Display for Settings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(resolution) = self.resolution {
            write!(f, "{} bits, ", resolution.bits())?;
        }
        write!(f, "TH {}, TL {}", self.limits.high, self.limits.low)
    }
}

impl Settings {
    /// Write Scratchpad and its bytes: TH, TL and, where there is one, the configuration.
    pub(super) fn write_command(self, family: Family) -> heapless::Vec<u8, 4> {
        let mut bytes = heapless::Vec::new();
        let _ = bytes.push(WRITE_SCRATCHPAD);
        let _ = bytes.push(self.limits.high.cast_unsigned());
        let _ = bytes.push(self.limits.low.cast_unsigned());
        if let (Some((_, fixed)), Some(resolution)) = (family.fixed_configuration(), self.resolution) {
            let _ = bytes.push(fixed | resolution.code() << 5);
        }
        bytes
    }
}
