//! What became of one step.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use slotwise::thermometer::{AlarmLimits, Doubt, Evidence, Resolution, Supply};

use super::FixedPointRecord;
use crate::{Subject, Verdict};
use slotwise_rig::reply::LineRecord;
use slotwise_rig::reply::{Failure, Sample};
use slotwise_rig::{Fault, FaultKind};
use slotwise_terms::FailureKind;
use slotwise_terms::notation;
use slotwise_terms::units::{celsius_of_sixteenths, corrected, millicelsius};

/// One step, done or not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct StepRecord {
    /// Its place in the scenario, from 1: `[4]`, or `[4, 2]` for the second step of the repetition that is step 4.
    pub place: Vec<u32>,
    /// What the scenario calls it.
    pub label: String,
    /// Line of the scenario file where it begins.
    pub line: usize,
    /// What became of it.
    pub outcome: StepOutcome,
    /// Cautions shown before the step began.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<String>,
    /// Why it was not done, or not to its end.
    pub reason: Option<String>,
    /// When it began, by the time of the rig.
    pub started_ns: u64,
    /// When it ended.
    pub ended_ns: u64,
    /// What it brought to light.
    pub data: StepData,
    /// What the bridge measured of the line meanwhile, where it was asked for anything.
    pub line_report: Option<LineRecord>,
    /// Each expectation and what came.
    pub verdicts: Vec<Verdict>,
}

/// What became of a step or a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum StepOutcome {
    /// Every expectation was met.
    Passed,
    /// At least one was not.
    Failed,
    /// The rig broke down.
    Broken,
    /// This rig cannot do it, or cannot show whether an expectation is met.
    NotPossible,
    /// It was stopped half-way.
    Interrupted,
    /// It was not begun.
    NotRun,
}

/// What a step brought to light.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum StepData {
    /// Nothing beyond its verdicts.
    #[default]
    Nothing,
    /// Who was found.
    Search {
        /// How many searches there were.
        searches: u32,
        /// Everybody who was found at least once.
        found: Vec<FoundSensor>,
    },
    /// Readings.
    Readings {
        /// The conversion of all together, if there was one.
        conversion: Option<ConversionRecord>,
        /// One for each sensor measured.
        readings: Vec<ReadingRecord>,
        /// What they come to, at a fixed point.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fixed_point: Option<FixedPointRecord>,
    },
    /// Settings written.
    Settings {
        /// One for each sensor.
        sensors: Vec<SettingsRecord>,
    },
    /// A fault was injected.
    FaultInjected {
        /// The fault.
        fault: Fault,
    },
    /// Faults were cleared.
    FaultCleared {
        /// Of this kind.
        fault: FaultKind,
    },
    /// Rounds.
    Rounds(Rounds),
}

/// A sensor that a search found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct FoundSensor {
    /// Its names.
    pub sensor: Subject,
    /// Its part number, if its family is known.
    pub part: Option<String>,
    /// How it is powered, if it was asked.
    #[cfg_attr(feature = "schema", schemars(with = "Option<notation::SupplyForm>"))]
    pub supply: Option<Supply>,
    /// In how many searches it was found.
    pub times: u32,
}

/// A conversion of all sensors together.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct ConversionRecord {
    /// How the line is powered.
    #[cfg_attr(feature = "schema", schemars(with = "notation::SupplyForm"))]
    pub supply: Supply,
    /// How long the slowest sensor was busy; none where the rig cannot observe it.
    pub busy_us: Option<u32>,
}

/// One sensor measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct ReadingRecord {
    /// Its names.
    pub sensor: Subject,
    /// When it was read, by the time of the rig.
    pub at_ns: u64,
    /// How long its own conversion took, if it was watched alone.
    pub busy_us: Option<u32>,
    /// What the rig itself knows of the temperature of its element, if it was asked.
    pub rig_millicelsius: Option<i32>,
    /// What came of it.
    pub outcome: ReadingOutcome,
}

/// What came of reading one sensor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ReadingOutcome {
    /// A number.
    Read(ReadNumber),
    /// None.
    Failed(FailureRecord),
}

/// A number that a sensor gave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct ReadNumber {
    /// Degrees Celsius: exactly `sixteenths` / 16.
    #[serde(deserialize_with = "notation::number")]
    pub celsius: f64,
    /// Sixteenths of a degree Celsius.
    pub sixteenths: i16,
    /// What is to be added to it, in thousandths of a degree Celsius, if a corrected number was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub correction_millicelsius: Option<i32>,
    /// The corrected number: what was read, to the nearest thousandth of a degree, and the correction.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrected_millicelsius: Option<i32>,
    /// The nine bytes of the scratchpad in wire order, in hexadecimal.
    #[serde(with = "notation::hex9")]
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub bytes: [u8; 9],
    /// Bits of resolution; none for a DS18S20.
    pub resolution_bits: Option<u8>,
    /// Alarm limits.
    #[cfg_attr(feature = "schema", schemars(with = "notation::AlarmLimitsForm"))]
    pub limits: AlarmLimits,
    /// Reasons not to trust it.
    #[cfg_attr(feature = "schema", schemars(with = "Vec<notation::DoubtForm>"))]
    pub doubts: Vec<Doubt>,
    /// What is known of the conversion.
    #[cfg_attr(feature = "schema", schemars(with = "notation::EvidenceForm"))]
    pub evidence: Evidence,
    /// How often the sensor was measured again, alone, because nothing proved the reading before.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub measured_again: u32,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
const fn is_zero(number: &u32) -> bool {
    *number == 0
}

/// Why there is no number.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct FailureRecord {
    /// What kind of failure.
    pub kind: FailureKind,
    /// The driver's own words.
    pub text: String,
    /// The nine bytes that came, where any came.
    #[serde(with = "notation::hex9::optional")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<String>"))]
    pub bytes: Option<[u8; 9]>,
}

/// One sensor configured.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct SettingsRecord {
    /// Its names.
    pub sensor: Subject,
    /// Its scratchpad before, if it could be read.
    #[serde(with = "notation::hex9::optional")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<String>"))]
    pub before: Option<[u8; 9]>,
    /// Its scratchpad after the write.
    #[serde(with = "notation::hex9::optional")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<String>"))]
    pub after: Option<[u8; 9]>,
    /// Its scratchpad after the recall from EEPROM, if they were saved.
    #[serde(with = "notation::hex9::optional")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<String>"))]
    pub recalled: Option<[u8; 9]>,
}

/// The rounds of a repetition.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Rounds {
    /// How many were begun.
    pub begun: u32,
    /// How many of them failed.
    pub failed: u32,
    /// Of the rounds that passed, one in so many is kept, so that a long run has a record of bounded size.
    pub one_kept_in: u32,
    /// How many rounds that failed are counted but not kept, for the same reason.
    pub failed_not_kept: u32,
    /// The rounds kept.
    pub kept: Vec<Round>,
}

/// One round.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Round {
    /// Its number, from 1.
    pub number: u32,
    /// What became of it.
    pub outcome: StepOutcome,
    /// Its steps.
    pub steps: Vec<StepRecord>,
}

impl StepRecord {
    /// Cautions shown before it or before a step inside it, each once.
    #[must_use]
    pub fn all_cautions(&self) -> Vec<&str> {
        let mut all: Vec<&str> = self.cautions.iter().map(String::as_str).collect();
        if let StepData::Rounds(rounds) = &self.data {
            all.extend(rounds.kept.iter().flat_map(|round| &round.steps).flat_map(Self::all_cautions));
        }
        let mut once = Vec::new();
        for caution in all {
            if !once.contains(&caution) {
                once.push(caution);
            }
        }
        once
    }
}

impl ReadingOutcome {
    /// What is recorded of a reading or a failure.
    #[must_use]
    pub fn of(outcome: &Result<Sample, Failure>) -> Self {
        match outcome {
            Ok(sample) => Self::Read(ReadNumber {
                celsius: f64::from(sample.sixteenths) / 16.0,
                sixteenths: sample.sixteenths,
                correction_millicelsius: None,
                corrected_millicelsius: None,
                bytes: sample.bytes,
                resolution_bits: sample.settings.resolution.map(Resolution::bits),
                limits: sample.settings.limits,
                doubts: sample.doubts.iter().collect(),
                evidence: sample.evidence,
                measured_again: 0,
            }),
            Err(failure) => {
                Self::Failed(FailureRecord { kind: failure.kind, text: failure.text.clone(), bytes: failure.bytes })
            }
        }
    }

    /// The same of a sensor that was measured again so often.
    #[must_use]
    pub fn measured_again(self, measured_again: u32) -> Self {
        match self {
            Self::Read(number) => Self::Read(ReadNumber { measured_again, ..number }),
            failed @ Self::Failed(_) => failed,
        }
    }

    /// The same with a correction, if there is a number to be corrected.
    #[must_use]
    pub fn corrected(self, correction_millicelsius: Option<i32>) -> Self {
        match (self, correction_millicelsius) {
            (Self::Read(number), Some(correction)) => Self::Read(ReadNumber {
                correction_millicelsius: Some(correction),
                corrected_millicelsius: Some(millicelsius(i32::from(number.sixteenths)) + correction),
                ..number
            }),
            (other, _) => other,
        }
    }
}

impl ReadNumber {
    /// How often its sensor was measured again, in words; nothing if it was not.
    #[must_use]
    pub fn again_text(&self) -> Option<String> {
        match self.measured_again {
            0 => None,
            1 => Some("measured again alone".into()),
            times => Some(format!("measured again alone, {times} times")),
        }
    }

    /// `24.125 degC`, or `24.045 degC corrected by -0.080 from 24.125`.
    #[must_use]
    pub fn text(&self) -> String {
        let sixteenths = i32::from(self.sixteenths);
        self.correction_millicelsius
            .map_or_else(|| celsius_of_sixteenths(sixteenths), |correction| corrected(sixteenths, correction))
    }
}
