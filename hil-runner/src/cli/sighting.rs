//! Looking at sensors without a scenario: what `scan` and `read` have in common.

use std::collections::BTreeMap;

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::bus::{RomCode, Target};
use slotwise::thermometer::{Doubt, Receipt};

use super::console::{Console, message as tell};
use super::exit::Exit;
use slotwise_bench::Bench;
use slotwise_record::Subject;
use slotwise_record::{Breakage, ReadNumber, ReadingOutcome};
use slotwise_report::breakage_hint;
use slotwise_rig::Rig;
use slotwise_rig::reply::Trouble;
use slotwise_run::fresh::{Measurement, Memory, Sensor, supply};
use slotwise_run::is_of_line;
use slotwise_scenario::Values;

/// A number, or why there is none.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub(super) enum SensorReading {
    /// The driver does not decode such a sensor.
    NotDecoded(String),
    /// There is one, or the driver says why not.
    #[serde(untagged)]
    Reading(ReadingOutcome),
}

/// The correction of a sensor, if corrected numbers were asked for and there is one.
pub(super) fn correction(rig: &Rig, rom: RomCode, values: Values) -> Option<i32> {
    let sensor = rig.inventory.iter().find(|sensor| sensor.rom == rom).filter(|_| values == Values::Corrected)?;
    sensor.correction.as_ref().map(|correction| correction.millicelsius)
}

/// Readings of sensors that converted with proof.
#[derive(Clone, Debug)]
pub(super) struct Readings(BTreeMap<RomCode, Result<Measurement, Trouble>>);

/// Measures these sensors with proof of each conversion. Those of families that the driver does not decode are left out.
///
/// # Errors
/// [`Trouble`] if none of them could be asked for anything.
pub(super) fn measure(
    bench: &mut dyn Bench,
    rig: &Rig,
    memory: &mut Memory,
    roms: &[RomCode],
) -> Result<Readings, Trouble> {
    let sensors: Vec<Sensor> = roms.iter().filter_map(|rom| Sensor::of(*rom)).collect();
    if sensors.is_empty() {
        return Ok(Readings(BTreeMap::new()));
    }
    let target = match sensors.as_slice() {
        [sensor] => Target::One(sensor.rom),
        _ => Target::All,
    };
    let supply = supply(bench, rig, target)?;
    let samples = memory.measure(bench, &sensors, supply)?;
    Ok(Readings(sensors.iter().map(|sensor| sensor.rom).zip(samples).collect()))
}

/// What was read of a sensor. An error is a fault of the whole rig.
pub(super) fn read(
    bench: &mut dyn Bench,
    rom: RomCode,
    measured: &Result<Readings, Trouble>,
) -> Result<SensorReading, Trouble> {
    let read = match measured {
        // The driver says that it does not decode it.
        Ok(Readings(of_each)) => of_each
            .get(&rom)
            .cloned()
            .unwrap_or_else(|| bench.read(rom, &Receipt::NONE).map(|sample| Measurement { sample, again: 0 })),
        Err(trouble) => Err(trouble.clone()),
    };
    match read {
        Ok(Measurement { sample, again }) => {
            Ok(SensorReading::Reading(ReadingOutcome::of(&Ok(sample)).measured_again(again)))
        }
        Err(trouble) if is_of_line(bench, &trouble) => Err(trouble),
        Err(Trouble::Failed(failure)) => Ok(SensorReading::Reading(ReadingOutcome::of(&Err(failure)))),
        Err(Trouble::NotPossible { what }) => Ok(SensorReading::NotDecoded(what)),
        Err(trouble @ (Trouble::Link { .. } | Trouble::Cancelled)) => Err(trouble),
    }
}

impl SensorReading {
    /// Whether it is a number of this sensor that nothing speaks against. That a shared family code is this part is what the
    /// inventory says of those in it.
    pub(super) fn is_trusted(&self, sensor: &Subject) -> bool {
        let Self::Reading(ReadingOutcome::Read(number)) = self else { return false };
        number.doubts.iter().all(|doubt| *doubt == Doubt::SharedFamily && sensor.label.is_some())
    }

    /// The same with the correction of the rig file, if there is one.
    pub(super) fn corrected(self, correction_millicelsius: Option<i32>) -> Self {
        match self {
            Self::Reading(outcome) => Self::Reading(outcome.corrected(correction_millicelsius)),
            Self::NotDecoded(_) => self,
        }
    }

    /// The number, or the kind of failure.
    pub(super) fn number(&self) -> String {
        match self {
            Self::Reading(ReadingOutcome::Read(number)) => number.text(),
            Self::Reading(ReadingOutcome::Failed(failure)) => failure.kind.words().into(),
            Self::NotDecoded(_) => "-".into(),
        }
    }

    /// What speaks against it, or is missing of what was asked for.
    pub(super) fn remark(&self, numbers: Values) -> String {
        match self {
            Self::Reading(ReadingOutcome::Read(number)) => {
                let missing = numbers == Values::Corrected && number.correction_millicelsius.is_none();
                let missing = missing.then(|| "as read: the rig file has no correction".to_owned());
                let doubts = number.doubts.iter().map(ToString::to_string);
                doubts.chain(number.again_text()).chain(missing).collect::<Vec<String>>().join("; ")
            }
            Self::Reading(ReadingOutcome::Failed(failure)) => failure.text.clone(),
            Self::NotDecoded(why) => why.clone(),
        }
    }

    /// Bits of resolution.
    pub(super) fn resolution(&self) -> String {
        match self {
            Self::Reading(ReadingOutcome::Read(ReadNumber { resolution_bits: Some(bits), .. })) => {
                format!("{bits} bits")
            }
            Self::Reading(_) | Self::NotDecoded(_) => "-".into(),
        }
    }
}

/// Tells that the rig is broken, with one hint.
pub(super) fn broken(console: &Console, rig: &Rig, trouble: &Trouble) -> Exit {
    console.error(format_args!("the rig is broken: {trouble}"));
    tell(&format!("hint: {}", broken_hint(rig, trouble)));
    Exit::RigBroken
}

/// What to do about a broken rig.
pub(super) fn broken_hint(rig: &Rig, trouble: &Trouble) -> String {
    let breakage = Breakage { step: Vec::new(), kind: trouble.kind(), text: trouble.to_string() };
    breakage_hint(&breakage, rig)
}
