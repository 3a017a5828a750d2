//! Sensors on parasite power: the alarm flag shows the conversion.
//!
//! The flag follows the limits at the end of each conversion (DS18B20 datasheet (7/19), Alarm Signaling). If none of the sensors is in
//! alarm, they get limits that every temperature meets, and each must answer the Alarm Search afterwards: 64 answers along its ROM code,
//! which no pulse makes. If all are in alarm, they get limits that none meets, and none may answer: silence is also what a sensor says that
//! has not received the command, so the search is repeated. If only some are, the first kind of conversion brings all into alarm before
//! the second is read.

use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::thermometer::{AlarmLimits, Receipt, Settings, Wait};

use super::memory::{Memory, Sensor, persist};
use super::reading::{Conversion, Witnessed, twice};
use slotwise_bench::{Bench, SearchOutcome};
use slotwise_rig::reply::Trouble;

/// So many Alarm Searches show that a sensor is not in alarm.
const SEARCHES: u32 = 5;
/// So many are tried, as a pulse ends some of them early.
const SEARCH_TRIES: u32 = 15;

/// Which limits turn the flag over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Limits {
    /// Limits that every temperature meets.
    Always,
    /// Limits that none meets.
    Never,
}

/// What is known of each sensor, or what befell it.
type OfEach<T> = Vec<Result<T, Trouble>>;

pub(super) fn convert(memory: &mut Memory, bench: &mut dyn Bench, sensors: &[Sensor]) -> Result<Conversion, Trouble> {
    let own: OfEach<Settings> =
        sensors.iter().map(|sensor| twice(bench, sensor, &Receipt::NONE).map(|sample| sample.settings)).collect();
    for (sensor, own) in sensors.iter().zip(&own) {
        if let Ok(own) = own {
            memory.learn(sensor.rom, own.resolution);
        }
    }
    let converted = turn(memory, bench, sensors, &own);
    if converted.is_err() {
        restore(bench, sensors, &own);
    }
    converted
}

/// Gives all that can be reached their own settings back, after a conversion that failed.
fn restore(bench: &mut dyn Bench, sensors: &[Sensor], own: &OfEach<Settings>) {
    for (sensor, own) in sensors.iter().zip(own) {
        if let Ok(own) = own {
            // The trouble that led here is what is reported.
            let _ = persist(|| bench.write(sensor.rom, *own));
        }
    }
}

/// Has the flags turn over by a conversion with marks.
fn turn(
    memory: &mut Memory,
    bench: &mut dyn Bench,
    sensors: &[Sensor],
    own: &OfEach<Settings>,
) -> Result<Conversion, Trouble> {
    let there: Vec<RomCode> =
        sensors.iter().zip(own).filter(|(_, own)| own.is_ok()).map(|(sensor, _)| sensor.rom).collect();
    let mut before = in_alarm(bench, &there)?;
    let mut limits = if before.is_empty() { Limits::Always } else { Limits::Never };
    if !before.is_empty() && before.len() < there.len() {
        write_marks(memory, bench, (sensors, own), Limits::Always);
        convert_all(memory, bench, sensors)?;
        before = in_alarm(bench, &there)?;
        limits = Limits::Never;
    }
    let marks = write_marks(memory, bench, (sensors, own), limits);
    let receipt = convert_all(memory, bench, sensors)?;
    let after = in_alarm(bench, &there)?;
    let turned = |rom| before.contains(rom) != after.contains(rom);
    let witnessed = sensors.iter().zip(&marks).zip(own).map(|((sensor, mark), own)| {
        // A mark that failed may be there for all that, or the settings of the EEPROM.
        let own = *own.as_ref().ok()?;
        Some(Witnessed { own, mark: mark.as_ref().ok().copied(), turned: turned(&sensor.rom) })
    });
    let witnessed = witnessed.collect();
    let receipts = marks.into_iter().map(|mark| mark.map(|_| receipt));
    Ok(Conversion { witnessed, ..Conversion::new(receipts, memory.longest_us(sensors)) })
}

/// Writes the mark to each sensor, and returns it as written.
fn write_marks(
    memory: &mut Memory,
    bench: &mut dyn Bench,
    (sensors, own): (&[Sensor], &OfEach<Settings>),
    limits: Limits,
) -> OfEach<Settings> {
    let mark = |(sensor, own): (&Sensor, &Result<Settings, Trouble>)| {
        let own = own.clone()?;
        let stored = persist(|| memory.eeprom_limits(bench, sensor.rom))?;
        let limits = match limits {
            Limits::Always => AlarmLimits::always_beside(stored),
            Limits::Never => AlarmLimits::never_beside(stored),
        };
        let mark = Settings { limits, ..own };
        persist(|| bench.write(sensor.rom, mark))?;
        Ok(mark)
    };
    sensors.iter().zip(own).map(mark).collect()
}

/// All sensors on the line convert: those that are not named here would otherwise have to be kept from it one by one.
fn convert_all(memory: &Memory, bench: &mut dyn Bench, sensors: &[Sensor]) -> Result<Receipt, Trouble> {
    let longest_us = memory.longest_us(sensors);
    Ok(persist(|| bench.convert(Target::All, Wait::StrongPullUp, longest_us))?.receipt)
}

/// Which of these sensors are in alarm: those that a search found, and not those that none of several found.
fn in_alarm(bench: &mut dyn Bench, sensors: &[RomCode]) -> Result<Vec<RomCode>, Trouble> {
    let mut found: Vec<RomCode> = Vec::new();
    let (mut complete, mut failed) = (0, None);
    for _ in 0..SEARCH_TRIES {
        let SearchOutcome { roms, trouble } = bench.search(SearchScope::Alarm);
        found.extend(roms.iter().filter(|rom| sensors.contains(rom)));
        found.sort_unstable();
        found.dedup();
        match trouble {
            None => complete += 1,
            Some(trouble @ Trouble::Failed(_)) => failed = Some(trouble),
            Some(trouble) => return Err(trouble),
        }
        if complete == SEARCHES || (complete > 0 && found.len() == sensors.len()) {
            return Ok(found);
        }
    }
    Err(failed.unwrap_or_else(|| Trouble::not_possible("an Alarm Search")))
}
