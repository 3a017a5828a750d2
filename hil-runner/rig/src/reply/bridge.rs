//! The bridge behind a run: who it is, what it measured of the line, what it logged, and how its link held.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use slotwise_bridge::message::{Carrier, Level, LineReport, Spread};

/// The firmware that answered.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct BridgeRecord {
    /// Version of the firmware.
    pub firmware: String,
    /// The chip it was built for.
    pub chip: String,
    /// How frames travelled.
    pub carrier: CarrierKind,
    /// Core clock of the chip, in hertz. 0 where there is no chip.
    pub core_hz: u32,
    /// Ticks per second of the clock that timed the line.
    pub tick_hz: u32,
    /// The firmware image that this tool has put there, if it has.
    pub image: Option<ImageRecord>,
}

/// What a firmware image takes of the chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct ImageRecord {
    /// Bytes that lie in flash: code, constants, and what statics begin with.
    pub flash_bytes: u32,
    /// Bytes of memory taken by statics.
    pub statics_bytes: u32,
}

/// How frames travelled.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CarrierKind {
    /// Within this process.
    #[default]
    InProcess,
    /// Through the memory of the chip, by a debug probe.
    #[serde(alias = "rtt")]
    Memory,
    /// Through a serial port.
    Serial,
}

impl From<Carrier> for CarrierKind {
    fn from(carrier: Carrier) -> Self {
        match carrier {
            Carrier::InProcess => Self::InProcess,
            Carrier::Memory => Self::Memory,
            Carrier::Serial => Self::Serial,
        }
    }
}

/// How well a link held. All zero on a good one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct LinkRecord {
    /// Requests sent again. The bridge carried out none of them twice.
    pub repeated: u32,
    /// Frames that arrived damaged.
    pub damaged: u32,
    /// Times a frame was sent again because one side had received damage.
    pub not_heard: u32,
    /// Frames that were for something older.
    pub stale: u32,
}

/// What went through the serial port that was the bus master.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct PortRecord {
    /// Bytes that were sent: resets and slots.
    pub bytes: u64,
    /// Times that bytes were sent and waited for. Each costs what the adapter takes.
    pub round_trips: u64,
    /// Presence pulses that a search through this port cannot see, if there are any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub presence_unchecked: Option<String>,
}

/// The level of a line that the host itself adds to the log, for people to read at once.
pub const HOST_LEVEL: &str = "host";

/// A line of the firmware's log, or of the host's.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct LogRecord {
    /// When the host received it: nanoseconds of the rig's time since the run began.
    pub at_ns: u64,
    /// Its level, as the firmware has it.
    pub level: String,
    /// The text.
    pub text: String,
}

/// What the bridge measured of the line during one step.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct LineRecord {
    /// Requests carried out.
    pub requests: u32,
    /// Reset pulses sent.
    pub resets: u64,
    /// Time slots sent.
    pub slots: u64,
    /// Time that the requests took, in microseconds.
    pub busy_us: u64,
    /// Whether the line was high after the last request, where the master can look at it.
    pub idle_high: Option<bool>,
    /// From the release of a reset pulse to the input threshold.
    pub rise_ns: Option<SpreadRecord>,
    /// From there to the first presence pulse.
    pub presence_delay_ns: Option<SpreadRecord>,
    /// Length of the presence pulse of all sensors together.
    pub presence_width_ns: Option<SpreadRecord>,
    /// By how much these three may be wrong: the longest time between two looks at the line.
    pub grain_ns: u32,
}

/// Least and most of several measurements.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct SpreadRecord {
    /// The least.
    pub least: u32,
    /// The most.
    pub most: u32,
}

impl SpreadRecord {
    fn widen(into: &mut Option<Self>, by: Option<Spread>) {
        if let Some(Spread { least_ns, most_ns }) = by {
            let known = into.unwrap_or(Self { least: least_ns, most: most_ns });
            *into = Some(Self { least: known.least.min(least_ns), most: known.most.max(most_ns) });
        }
    }
}

impl LineRecord {
    /// Adds what was measured during more requests.
    pub fn merge(&mut self, other: &Self) {
        self.requests += other.requests;
        self.resets += other.resets;
        self.slots += other.slots;
        self.busy_us = self.busy_us.saturating_add(other.busy_us);
        self.idle_high = other.idle_high.or(self.idle_high);
        let spreads = [
            (&mut self.rise_ns, other.rise_ns),
            (&mut self.presence_delay_ns, other.presence_delay_ns),
            (&mut self.presence_width_ns, other.presence_width_ns),
        ];
        for (into, by) in spreads {
            SpreadRecord::widen(into, by.map(|by| Spread { least_ns: by.least, most_ns: by.most }));
        }
        self.grain_ns = self.grain_ns.max(other.grain_ns);
    }

    /// Adds what was measured during one more request.
    pub fn add(&mut self, report: &LineReport) {
        self.requests += 1;
        self.resets += u64::from(report.resets);
        self.slots += u64::from(report.slots);
        self.busy_us = self.busy_us.saturating_add(report.spent_us);
        self.idle_high = report.idle.map(|level| level == Level::High);
        SpreadRecord::widen(&mut self.rise_ns, report.rise);
        SpreadRecord::widen(&mut self.presence_delay_ns, report.presence_delay);
        SpreadRecord::widen(&mut self.presence_width_ns, report.presence_width);
        self.grain_ns = self.grain_ns.max(report.grain_ns);
    }
}
