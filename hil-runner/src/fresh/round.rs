//! Sensors on their own supply: each is started alone and seen busy.

use slotwise::thermometer::{Receipt, Round, Started};

use super::memory::{Memory, Sensor, persist};
use super::reading::Conversion;
use crate::bench::{Bench, Trouble};
use crate::scenario::FailureKind;

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

/// Starts one sensor. What befell it alone is in the inner result.
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
        Err(trouble) if trouble.kind() == Some(FailureKind::NotStarted) => {
            // A sensor that is not there does not start either. What it says when it is read is closer to the cause.
            Ok(Err(bench.read(sensor.rom, &Receipt::NONE).err().unwrap_or(trouble)))
        }
        Err(trouble @ Trouble::Failed(_)) => Ok(Err(trouble)),
        Err(trouble) => Err(trouble),
    }
}
