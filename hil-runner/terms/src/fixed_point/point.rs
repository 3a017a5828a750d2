//! The fixed points that can be had without a laboratory, their temperatures, and who says so.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{ICE_BATH, STEAM, saturation_millicelsius};
use crate::units::hectopascals;

/// A fixed point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum FixedPoint {
    /// Ice and water, side by side.
    IcePoint,
    /// Steam over boiling water.
    SteamPoint {
        /// Station pressure, not reduced to sea level.
        pressure_pa: u32,
    },
}

impl FixedPoint {
    /// Its temperature, in thousandths of a degree Celsius.
    #[must_use]
    pub fn millicelsius(self) -> i32 {
        match self {
            // At 101 325 Pa (ASTM E563, scope). 100 hPa less make 0.001 degC (melting curve of ice, from memory: 7.5 mK per MPa),
            // so no pressure is asked for. The triple point, 0.01 degC, is another thing: no air (ITS-90, Table 1).
            Self::IcePoint => 0,
            Self::SteamPoint { pressure_pa } => saturation_millicelsius(pressure_pa),
        }
    }

    /// What it is called.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::IcePoint => "ice point",
            Self::SteamPoint { .. } => "steam point",
        }
    }

    /// Its name, with all that it depends on.
    #[must_use]
    pub fn description(self) -> String {
        match self {
            Self::IcePoint => self.name().into(),
            Self::SteamPoint { pressure_pa } => format!("{} at {}", self.name(), hectopascals(pressure_pa)),
        }
    }

    /// Who says which temperature it has.
    #[must_use]
    pub fn source(self) -> String {
        match self {
            Self::IcePoint => "ice point at 101 325 Pa: ASTM E563, scope".into(),
            Self::SteamPoint { .. } => format!("{}: IAPWS-IF97, region 4", self.description()),
        }
    }

    /// What must be known before sensors are brought there.
    #[must_use]
    pub const fn caution(self) -> &'static str {
        match self {
            Self::IcePoint => ICE_BATH,
            Self::SteamPoint { .. } => STEAM,
        }
    }
}
