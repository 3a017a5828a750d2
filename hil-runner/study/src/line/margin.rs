//! How far a line is from a limit.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

/// What has a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum LineParameter {
    /// The supply, between the limits of the sensors.
    Supply,
    /// The level of the line at rest over what sensors and master take for high.
    IdleLevel,
    /// The rise after a reset pulse before the driver checks whether the line is up.
    RiseCheck,
    /// The rise in a read slot before the master samples the bit.
    ReadSample,
    /// The master's sample before the sensor's bit ends.
    ReadValid,
    /// The rise in a write-1 slot before the fastest sensor samples it.
    WriteOne,
    /// The rise after a write-0 slot, and tREC, before the next slot.
    Recovery,
    /// The end of the latest presence pulse before the end of the reset.
    Presence,
    /// The high time of a reset, from the rise on.
    ResetHigh,
    /// tPDHIGH as seen, between its limits.
    PresenceDelay,
    /// tPDLOW as seen, between its limits.
    PresenceWidth,
    /// What a sensor must sink to pull the line low.
    LowLevel,
    /// The level of the line while one sensor on parasite power works.
    ParasitePower,
}

impl LineParameter {
    /// Those that are computed, in the order of reports.
    pub const COMPUTED: [Self; 11] = [
        Self::Supply,
        Self::IdleLevel,
        Self::RiseCheck,
        Self::ReadSample,
        Self::ReadValid,
        Self::WriteOne,
        Self::Recovery,
        Self::Presence,
        Self::ResetHigh,
        Self::LowLevel,
        Self::ParasitePower,
    ];

    /// Those that cable and sensors use up.
    pub const BY_LOAD: [Self; 7] = [
        Self::IdleLevel,
        Self::RiseCheck,
        Self::ReadSample,
        Self::WriteOne,
        Self::Recovery,
        Self::Presence,
        Self::ResetHigh,
    ];

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Supply => "supply",
            Self::IdleLevel => "idle level",
            Self::RiseCheck => "rise after a reset",
            Self::ReadSample => "rise before the read sample",
            Self::ReadValid => "read sample before tRDV",
            Self::WriteOne => "rise of a written 1",
            Self::Recovery => "recovery between slots",
            Self::Presence => "end of presence",
            Self::ResetHigh => "tRSTH",
            Self::PresenceDelay => "tPDHIGH",
            Self::PresenceWidth => "tPDLOW",
            Self::LowLevel => "low level",
            Self::ParasitePower => "parasite power",
        }
    }

    /// What it is held against, in a few words.
    #[must_use]
    pub const fn against(self) -> &'static str {
        match self {
            Self::Supply => "VDD, VPU",
            Self::IdleLevel => "VIH, master's threshold",
            Self::RiseCheck => "driver's sample, master's threshold",
            Self::ReadSample => "driver's sample, master's threshold",
            Self::ReadValid => "tRDV",
            Self::WriteOne => "sensor's sample from 15 us on, VIH",
            Self::Recovery => "driver's slot, VIH, tREC",
            Self::Presence => "driver's last sample of a reset",
            Self::ResetHigh => "480 us, rise left out",
            Self::PresenceDelay => "15 to 60 us",
            Self::PresenceWidth => "60 to 240 us, overlaid",
            Self::LowLevel => "IL",
            Self::ParasitePower => "VPU",
        }
    }

    /// What its margin is in.
    #[must_use]
    pub const fn unit(self) -> MarginUnit {
        match self {
            Self::Supply | Self::IdleLevel | Self::ParasitePower => MarginUnit::Volt,
            Self::LowLevel => MarginUnit::Milliampere,
            Self::RiseCheck
            | Self::ReadSample
            | Self::ReadValid
            | Self::WriteOne
            | Self::Recovery
            | Self::Presence
            | Self::ResetHigh
            | Self::PresenceDelay
            | Self::PresenceWidth => MarginUnit::Microsecond,
        }
    }
}

/// What a margin is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum MarginUnit {
    /// V.
    Volt,
    /// mA.
    Milliampere,
    /// us.
    Microsecond,
}

impl MarginUnit {
    /// Its symbol.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Volt => "V",
            Self::Milliampere => "mA",
            Self::Microsecond => "us",
        }
    }
}

/// Where a margin comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum MarginBasis {
    /// From what was seen of the line.
    Measured,
    /// From numbers.
    Computed,
}

/// How far a line is from a limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Margin {
    /// From which.
    pub parameter: LineParameter,
    /// Where it comes from.
    pub basis: MarginBasis,
    /// How far; negative beyond the limit. None: the line never gets there.
    pub margin: Option<f64>,
    /// What it is in.
    pub unit: MarginUnit,
    /// By how much it may be wrong, in the same unit; nothing where it is computed.
    pub grain: f64,
    /// How it is computed, with the numbers put in.
    pub formula: String,
    /// The source of the limit.
    pub source: String,
}

impl Margin {
    /// Whether the limit is kept, or may be: what is beyond it by less than the grain has not been seen to break it.
    #[must_use]
    pub fn is_kept(&self) -> bool {
        self.margin.is_some_and(|margin| is_kept(margin + self.grain))
    }
}

/// Whether a limit is kept with this margin. What is nearer to it than the resolution of a float is on it.
pub(super) const fn is_kept(margin: f64) -> bool {
    /// Far below every figure here.
    const NOTHING: f64 = 1e-9;
    margin >= -NOTHING
}
