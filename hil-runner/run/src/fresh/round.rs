//! Sensors on their own supply: each is started alone and seen busy.

use slotwise::bus::Target;
use slotwise::thermometer::{CONVERSION_MAX_US, Receipt, Round, Started, Wait};

use super::memory::{Memory, Sensor, persist};
use super::reading::Conversion;
use slotwise_bench::Bench;
use slotwise_rig::reply::Trouble;
use slotwise_terms::FailureKind;

pub(super) fn convert(memory: &Memory, bench: &mut dyn Bench, sensors: &[Sensor]) -> Result<Conversion, Trouble> {
    let waited_us = memory.longest_us(sensors);
    let mut round = None;
    let mut started = Vec::with_capacity(sensors.len());
    for sensor in sensors {
        started.push(start(bench, sensor, &mut round)?);
    }
    let Some(round) = round else {
        return Ok(Conversion::new(started.into_iter().map(|outcome| outcome.map(|_| Receipt::NONE)), waited_us));
    };
    let over = bench.finish_round(round, waited_us)?;
    let receipts = started.into_iter().map(|outcome| outcome.map(|started| over.receipt(started)));
    Ok(Conversion::new(receipts, waited_us))
}

/// One sensor alone is seen busy, and done, by polls; no other sensor on the line is addressed.
pub(super) fn convert_alone(memory: &Memory, bench: &mut dyn Bench, sensor: &Sensor) -> Result<Conversion, Trouble> {
    let mut waited_us = memory.longest_us(std::slice::from_ref(sensor));
    let mut convert = |us| persist(|| bench.convert(Target::One(sensor.rom), Wait::PollAndTime, us));
    let mut converted = convert(waited_us);
    let is_slow = converted.as_ref().is_err_and(|trouble| trouble.kind() == Some(FailureKind::StillBusy));
    if is_slow && waited_us < CONVERSION_MAX_US {
        // It may have a finer resolution by now than the one it reported last.
        waited_us = CONVERSION_MAX_US;
        converted = convert(waited_us);
    }
    let receipt = match converted {
        Ok(converted) => Ok(converted.receipt),
        Err(trouble @ Trouble::Failed(_)) => Err(cause_of_silence(bench, sensor, trouble)),
        Err(trouble) => return Err(trouble),
    };
    Ok(Conversion::new(std::iter::once(receipt), waited_us))
}

/// A sensor that is not there does not start either. How a read of it fails is closer to the cause.
fn cause_of_silence(bench: &mut dyn Bench, sensor: &Sensor, trouble: Trouble) -> Trouble {
    if trouble.kind() != Some(FailureKind::NotStarted) {
        return trouble;
    }
    bench.read(sensor.rom, &Receipt::NONE).err().unwrap_or(trouble)
}

/// Starts one sensor. The trouble of that sensor alone is in the inner result.
fn start(
    bench: &mut dyn Bench,
    sensor: &Sensor,
    round: &mut Option<Round>,
) -> Result<Result<Started, Trouble>, Trouble> {
    let begun = persist(|| bench.start(sensor.rom, *round));
    match begun {
        Ok((begun, started)) => {
            *round = Some(begun);
            Ok(Ok(started))
        }
        Err(trouble @ Trouble::Failed(_)) => Ok(Err(cause_of_silence(bench, sensor, trouble))),
        Err(trouble) => Err(trouble),
    }
}
