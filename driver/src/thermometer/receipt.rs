//! A receipt of a conversion: whose it was, which one, and what was seen of it.

use super::Evidence;
use crate::bus::{RomCode, Target};

/// What shows that a conversion took place, bound to the sensors it was for and to that one conversion.
///
/// [`Thermometer::read`](super::Thermometer::read) refuses a receipt of another sensor, and one that was followed by another
/// [`Conversion`](super::Conversion) or [`Round`](super::Round) on the same bus: the number in the sensor may then be older or newer than
/// what the receipt says. A receipt is bound to its bus only by the count of its conversions, so keep those of several buses apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Receipt {
    target: Target,
    conversion: u32,
    evidence: Evidence,
}

impl Receipt {
    /// Of no conversion: what is read with it carries the doubt [`NoConversion`](super::Doubt::NoConversion).
    pub const NONE: Self = Self { target: Target::All, conversion: 0, evidence: Evidence::None };

    pub(super) const fn new(target: Target, conversion: u32, evidence: Evidence) -> Self {
        Self { target, conversion, evidence }
    }

    /// The sensors that it is for.
    #[must_use]
    pub const fn target(&self) -> Target {
        self.target
    }

    /// What was seen of the conversion.
    #[must_use]
    pub const fn evidence(&self) -> Evidence {
        self.evidence
    }

    /// Whether it is a receipt of this sensor's last conversion, or of none at all.
    pub(super) fn covers(&self, rom: &RomCode, last_conversion: u32) -> bool {
        let is_its = match &self.target {
            Target::All => true,
            Target::One(other) => other == rom,
        };
        self.evidence == Evidence::None || (is_its && self.conversion != 0 && self.conversion == last_conversion)
    }
}
