//! What would help a line for which no resistor does.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use super::advice::PullUpAdvice;
use super::figures::{MASTER_PF, SUPPLY_MV};
use super::numbers::{Numbers, StrongPullUp};
use super::slots::SlotTiming;

/// A strong pull-up that carries many sensors (chosen).
const GOOD_SWITCH_OHM: f64 = 10.0;

/// A change to a line for which no resistor does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Remedy {
    /// Less cable.
    ShorterCable,
    /// Fewer sensors on it.
    FewerSensors,
    /// The timing set for long lines.
    LongLineTiming,
    /// A higher supply.
    MoreSupply,
    /// A switch that ties the line to the supply while sensors on parasite power work.
    StrongPullUp,
    /// A supply wire for every sensor on parasite power.
    SupplyWire,
}

impl Remedy {
    /// All there are, in the order of the report.
    pub const ALL: [Self; 6] = [
        Self::ShorterCable,
        Self::FewerSensors,
        Self::LongLineTiming,
        Self::MoreSupply,
        Self::StrongPullUp,
        Self::SupplyWire,
    ];

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::ShorterCable => "shorter cable",
            Self::FewerSensors => "fewer sensors",
            Self::LongLineTiming => "long-line timing",
            Self::MoreSupply => "more supply",
            Self::StrongPullUp => "a strong pull-up",
            Self::SupplyWire => "a supply wire",
        }
    }

    /// Those that help a line for which no resistor does, each tried as far as it goes: with it there is a resistor with which the whole
    /// line is sound.
    pub(super) fn of(numbers: &Numbers) -> Vec<Self> {
        let helps = |remedy: &Self| {
            let changed = remedy.applied(numbers);
            let fitting_ohm = PullUpAdvice::without_remedies(&changed).fitting_ohm;
            fitting_ohm.into_iter().any(|ohm| Numbers { pull_up_ohm: ohm.into(), ..changed }.is_sound())
        };
        Self::ALL.into_iter().filter(helps).collect()
    }

    /// Those that help sensors on parasite power for which there is no strong pull-up. Without numbers nothing speaks against either.
    pub(super) fn for_parasites(numbers: Option<&Numbers>) -> Vec<Self> {
        let helps = |remedy: &Self| numbers.is_none_or(|numbers| remedy.applied(numbers).powers_parasites());
        [Self::StrongPullUp, Self::SupplyWire].into_iter().filter(helps).collect()
    }

    /// The line with this change, as far as it goes.
    pub(super) fn applied(self, numbers: &Numbers) -> Numbers {
        match self {
            Self::ShorterCable => Numbers { cable_pf: numbers.cable_pf.min(MASTER_PF), ..*numbers },
            Self::FewerSensors => {
                Numbers { sensors: numbers.sensors.min(1), parasites: numbers.parasites.min(1), ..*numbers }
            }
            Self::LongLineTiming => match numbers.timing {
                SlotTiming::ShortLine => Numbers { timing: SlotTiming::LongLine, ..*numbers },
                SlotTiming::LongLine | SlotTiming::Uart => *numbers,
            },
            Self::MoreSupply => {
                let most_v = (SUPPLY_MV.1 as f64 / 1e3).max(numbers.supply_v);
                // The master's threshold is a share of the supply.
                let threshold_v = numbers.threshold_v * most_v / numbers.supply_v;
                Numbers { supply_v: most_v, threshold_v, ..*numbers }
            }
            Self::StrongPullUp => match numbers.strong_pull_up {
                StrongPullUp::None => Numbers { strong_pull_up: StrongPullUp::Ohm(GOOD_SWITCH_OHM), ..*numbers },
                StrongPullUp::Ohm(_) | StrongPullUp::Unsaid => *numbers,
            },
            Self::SupplyWire => Numbers { parasites: 0, ..*numbers },
        }
    }
}
