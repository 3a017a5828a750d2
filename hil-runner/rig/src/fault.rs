//! What can be wrong with a line on purpose: the faults that a rig may have hands for.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Sensors of the rig, by index into its inventory, in its order.
pub type Selection = Vec<usize>;

/// A fault to inject.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// Line to ground.
    Short {
        /// Through this resistance.
        ohm: u32,
    },
    /// The wire breaks right behind the master.
    Open,
    /// These sensors come off the line.
    Unplug(Selection),
    /// Pulses on the line.
    Noise {
        /// On average so many per second of rig time.
        per_second: u32,
        /// Each so long.
        width_us: u32,
    },
    /// The supply dips. The step is over when the dip is.
    BrownOut {
        /// To this voltage.
        to_mv: u32,
        /// For this long.
        ms: u32,
    },
    /// This sensor converts slower than the datasheet allows.
    SlowSensor {
        /// Which.
        sensor: usize,
        /// Its conversion time in thousandths of the datasheet maximum.
        permille: u32,
    },
    /// The pull-up becomes another one.
    PullUp {
        /// Its resistance.
        ohm: u32,
    },
    /// Bits flip in the scratchpad while this sensor sends it.
    BitErrors {
        /// Which.
        sensor: usize,
        /// In so many millionths of all transfers.
        ppm: u32,
    },
}

impl Fault {
    /// Its kind, by which it is cleared.
    #[must_use]
    pub const fn kind(&self) -> FaultKind {
        match self {
            Self::Short { .. } => FaultKind::Short,
            Self::Open => FaultKind::Open,
            Self::Unplug(_) => FaultKind::Unplug,
            Self::Noise { .. } => FaultKind::Noise,
            Self::BrownOut { .. } => FaultKind::BrownOut,
            Self::SlowSensor { .. } => FaultKind::SlowSensor,
            Self::PullUp { .. } => FaultKind::PullUp,
            Self::BitErrors { .. } => FaultKind::BitErrors,
        }
    }
}

/// The kinds of fault, for clearing them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// See [`Fault::Short`].
    Short,
    /// See [`Fault::Open`].
    Open,
    /// See [`Fault::Unplug`]: all are plugged in again.
    Unplug,
    /// See [`Fault::Noise`].
    Noise,
    /// See [`Fault::BrownOut`].
    BrownOut,
    /// See [`Fault::SlowSensor`].
    SlowSensor,
    /// See [`Fault::PullUp`]: the rig's own again.
    PullUp,
    /// See [`Fault::BitErrors`].
    BitErrors,
}
