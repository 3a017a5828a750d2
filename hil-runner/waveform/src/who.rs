//! Who a finding or a time is about.

use slotwise::thermometer::Family;

use crate::rom::Rom;

/// Who is meant: a sensor by its ROM code, or one whose ROM code was never seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Who {
    Sensor(Rom),
    Nameless,
}

impl Who {
    /// What it is called in a finding.
    pub(crate) fn name(self) -> Option<String> {
        match self {
            Self::Sensor(rom) => Some(rom.to_string()),
            Self::Nameless => None,
        }
    }

    /// Its family, as far as it is one of those that are known. One without a name is taken to be the commonest.
    pub(crate) const fn family(self) -> Option<Family> {
        match self {
            Self::Sensor(rom) => rom.family(),
            Self::Nameless => Some(Family::Ds18b20),
        }
    }

    /// Whether it is a thermometer. The commands of other devices are not judged, even where they have the same codes.
    pub(crate) const fn is_thermometer(self) -> bool {
        self.family().is_some()
    }
}
