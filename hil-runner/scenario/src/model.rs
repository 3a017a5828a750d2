//! A scenario after its file has been read and checked against a rig: every name resolved, every number in range.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use slotwise::thermometer::{AlarmLimits, Doubt, Resolution};

use slotwise_rig::{Fault, FaultKind, Selection};
use slotwise_terms::fixed_point::FixedPoint;
use slotwise_terms::{FailureKind, notation};

/// What is done, in order, and what must come out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Scenario {
    /// Its name.
    pub name: String,
    /// File it was read from, or a name in angle brackets for one that is built in.
    pub source: String,
    /// Cautions that are shown before anything runs.
    pub cautions: Vec<String>,
    /// Its steps.
    pub steps: Vec<Step>,
}

/// One step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Step {
    /// What the report calls it.
    pub label: String,
    /// Line in the scenario file where it begins, from 1.
    pub line: usize,
    /// What is done.
    pub action: Action,
}

/// What a step does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Action {
    /// Search the line and compare with the inventory.
    Find {
        /// How many searches, which must all find the same set.
        times: u32,
        /// The sensors that must be found, and no others. By default the whole inventory. Empty: the line must be empty.
        expect: Selection,
        /// Instead of finding sensors, each search must fail, for one of these reasons. Empty: it must not fail.
        fails: Vec<FailureKind>,
    },
    /// Write settings, read them back and, where `save` says so, save them to EEPROM.
    Configure {
        /// The sensors of the step.
        sensors: Selection,
        /// New resolution. Sensors without one (DS18S20) keep what they have.
        #[serde(with = "notation::bits::optional")]
        #[cfg_attr(feature = "schema", schemars(with = "Option<u8>"))]
        resolution: Option<Resolution>,
        /// New alarm limits.
        #[cfg_attr(feature = "schema", schemars(with = "Option<notation::AlarmLimitsForm>"))]
        alarm: Option<AlarmLimits>,
        /// Whether they go to EEPROM.
        save: Save,
        /// Instead of taking the settings, each sensor must fail, for one of these reasons. Empty: it must not fail.
        fails: Vec<FailureKind>,
    },
    /// Read what sensors hold, and write nothing.
    Holds {
        /// The sensors of the step.
        sensors: Selection,
        /// Resolution that those with a resolution must hold.
        #[serde(with = "notation::bits::optional")]
        #[cfg_attr(feature = "schema", schemars(with = "Option<u8>"))]
        resolution: Option<Resolution>,
        /// Alarm limits that all must hold.
        #[cfg_attr(feature = "schema", schemars(with = "Option<notation::AlarmLimitsForm>"))]
        alarm: Option<AlarmLimits>,
    },
    /// Convert and read.
    Measure(Measure),
    /// Bring sensors to a fixed point and hold them against it.
    FixedPoint(FixedPointCheck),
    /// Search for sensors in alarm.
    AlarmSearch {
        /// The sensors that must be in alarm, and no others.
        expect: Selection,
    },
    /// Take supply and pull-up away for a time.
    PowerCycle {
        /// For how long.
        off_ms: u64,
    },
    /// Change the temperature around sensors.
    Ambient {
        /// The sensors of the step. All of them: the ambient of the rig.
        sensors: Selection,
        /// To what.
        to_millicelsius: i32,
    },
    /// Break something on purpose.
    Inject(Fault),
    /// Mend it again: every fault of this kind.
    Clear(FaultKind),
    /// Let time pass.
    Wait {
        /// How much.
        ms: u64,
    },
    /// Do steps again and again.
    Repeat {
        /// How often, or how long.
        bound: Bound,
        /// How many rounds may fail, in millionths of all rounds.
        max_failures_ppm: u32,
        /// The steps of one round. A round fails if one of its steps does.
        steps: Vec<Step>,
    },
}

/// Whether settings go to EEPROM.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Save {
    /// They last until power-down.
    No,
    /// They are saved; written only if they differ from what is there.
    IfChanged,
    /// As [`Save::IfChanged`], and nothing may differ: a write to EEPROM is a failure.
    Unchanged,
}

/// Most rounds of a repetition. One that is bounded by time and needs more of them is ended there, and has failed.
pub const MAX_ROUNDS: u32 = 100_000;

/// End of a repetition.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Bound {
    /// After so many rounds.
    Times(u32),
    /// After the round in which this much of the rig's time has passed.
    ForMs(u64),
}

/// A measurement and what is expected of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Measure {
    /// The sensors of the step.
    pub sensors: Selection,
    /// One Convert T for all, or one each.
    pub convert: Convert,
    /// What must be proven of a conversion. Records from before there was a choice proved nothing.
    #[serde(default = "Proof::of_old")]
    pub proof: Proof,
    /// Which number of a reading is compared with references and other sensors.
    #[serde(default)]
    pub values: Values,
    /// What must come out, beyond what must always hold: the number is the published conversion of the bytes received,
    /// the CRC is right, and nothing is doubtful.
    pub expect: Vec<Expectation>,
}

/// What must be proven of the conversion behind a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Proof {
    /// That each sensor converted.
    Each,
    /// Nothing: as fast as the sensors are.
    None,
}

impl Proof {
    const fn of_old() -> Self {
        Self::None
    }
}

/// Which number of a reading is compared.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Values {
    /// As the sensor gave it.
    #[default]
    AsRead,
    /// With the correction of the rig file added.
    Corrected,
}

/// A fixed point, and what is expected of sensors there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct FixedPointCheck {
    /// The sensors of the step.
    pub sensors: Selection,
    /// Which fixed point.
    pub at: FixedPoint,
    /// The bath is stable once the readings of each sensor stay within this span,
    pub stable_within_millicelsius: u32,
    /// for this long, without a drift.
    pub stable_for_ms: u64,
    /// If it is not by then, the step fails.
    pub give_up_ms: u64,
    /// How far the mean of a sensor may lie from the fixed point; none: by the accuracy limit of its datasheet.
    pub within_millicelsius: Option<u32>,
}

/// How conversions start.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Convert {
    /// All sensors of the line at once.
    #[default]
    Together,
    /// One after the other, each watched.
    OneByOne,
    /// Not at all: read what is there.
    Not,
}

/// One expectation of a measurement. It applies to each sensor measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Expectation {
    /// The number lies within a tolerance of a reference.
    Near {
        /// Of what.
        reference: Reference,
        /// By how much it may differ.
        tolerance_millicelsius: u32,
    },
    /// All numbers lie within this span of each other.
    Agree {
        /// Largest minus smallest.
        within_millicelsius: u32,
    },
    /// Every number is a whole number of steps of the resolution in force.
    Quantised,
    /// The conversion took no longer than the datasheet allows at that resolution.
    InTime,
    /// The reading carries this doubt (others are then allowed too); without it the step fails.
    Doubt(#[cfg_attr(feature = "schema", schemars(with = "notation::DoubtForm"))] Doubt),
    /// There is no reading, for one of these reasons. Never empty, and never beside another expectation.
    Fails(Vec<FailureKind>),
    /// The bytes received are a row of the published table of the part, and the number is the one beside it. (That the
    /// number is right for the bytes must always hold; this one demands that the bytes are a published point.)
    Published,
}

/// What a number is compared with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Reference {
    /// A temperature from the scenario: a fixed point, or an outside reading.
    Value {
        /// Thousandths of a degree Celsius.
        millicelsius: i32,
    },
    /// Another sensor of the rig, by index, measured in the same step.
    Sensor(usize),
    /// What the rig itself knows: on a virtual rig, the temperature of the sensor's element.
    Rig,
}
