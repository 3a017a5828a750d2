//! A limit, and a window of two.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use slotwise::thermometer::Family;

use slotwise_terms::notation;
use slotwise_terms::units::exact_time;

/// Which limit of a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The least.
    Least,
    /// The most.
    Most,
}

/// Whether the limit itself is still permitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Reach {
    /// It is.
    Including,
    /// It is not.
    Excluding,
}

impl Reach {
    /// How a limit is written: `>=` or `>` for the least, `<=` or `<` for the most.
    #[must_use]
    pub const fn sign(self, side: Side) -> &'static str {
        match (side, self) {
            (Side::Least, Self::Including) => ">=",
            (Side::Least, Self::Excluding) => ">",
            (Side::Most, Self::Including) => "<=",
            (Side::Most, Self::Excluding) => "<",
        }
    }
}

/// What a limit rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// Its own datasheet prints it, or it is computed from what is printed there.
    OwnDatasheet,
    /// Taken to be as in the DS18B20, whose datasheet is the source: that of the part was not seen for it (assumed).
    AsDs18b20,
    /// No datasheet has a figure: one thing must not come before the other. Kept, it is no matter of how closely.
    Order,
}

/// One limit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Limit {
    /// The limit, in nanoseconds.
    pub ns: i64,
    /// Whether it is itself permitted.
    pub reach: Reach,
    /// The part that sets it.
    #[serde(with = "notation::part")]
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub part: Family,
    /// What it rests on.
    pub basis: Basis,
    /// Where it is printed.
    pub source: String,
}

impl Limit {
    /// What is asked: `>= 60 us`.
    #[must_use]
    pub fn asked(&self, side: Side) -> String {
        format!("{} {}", self.reach.sign(side), exact_time(self.ns))
    }

    /// Whether a distance to this limit, positive inside, is permitted.
    pub fn permits(&self, margin_ns: i64) -> bool {
        match self.reach {
            Reach::Including => margin_ns >= 0,
            Reach::Excluding => margin_ns > 0,
        }
    }
}

/// The limits of one time.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Window {
    /// At least this.
    pub least: Option<Limit>,
    /// At most this.
    pub most: Option<Limit>,
}
