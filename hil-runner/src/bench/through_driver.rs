//! The requests that the driver under test answers, on any line.

use slotwise::bus::Target;
use slotwise::bus::{Bus, RomCode, SearchScope};
use slotwise::line::Line;
use slotwise::thermometer::{Conversion, Evidence, Progress, Reading, Settings, Thermometer, Wait};

use super::{Busy, Converted, Found, Sample, Trouble};

/// More ROM codes than this come from a fault, and would fill the memory.
const MAX_FOUND: usize = 4096;

/// Searches the line.
pub(super) fn search<L: Line>(bus: &mut Bus<L>, scope: SearchScope) -> Found {
    let mut roms = Vec::new();
    for found in bus.search(scope).take(MAX_FOUND) {
        match found {
            Ok(rom) => roms.push(rom),
            Err(error) => return Found { roms, trouble: Some(error.into()) },
        }
    }
    Found { roms, trouble: None }
}

/// Reads a scratchpad and what the driver makes of it. The bytes are kept even if the driver can make nothing of them.
pub(super) fn read<L: Line>(bus: &mut Bus<L>, rom: RomCode, evidence: Evidence) -> Result<Sample, Trouble> {
    let thermometer = Thermometer::new(rom)?;
    let scratchpad = thermometer.read_scratchpad(bus)?;
    let reading = thermometer.interpret(scratchpad, evidence).map_err(|error| match Trouble::from(error) {
        Trouble::Failed(mut failure) => {
            failure.bytes = Some(*scratchpad.bytes());
            Trouble::Failed(failure)
        }
        other => other,
    })?;
    Ok(sample(&reading, reading.settings))
}

/// Converts and reads with proof that the sensor was not reset meanwhile.
pub(super) fn prove<L: Line>(bus: &mut Bus<L>, rom: RomCode, wait: Wait, max_us: u32) -> Result<Sample, Trouble> {
    let thermometer = Thermometer::new(rom)?;
    let reading = thermometer.convert_proven(bus, wait, max_us)?;
    // The driver gives the settings as they were; those of the bytes hold the mark.
    let marked = reading.scratchpad.decode(thermometer.family())?.settings;
    Ok(sample(&reading, marked))
}

fn sample(reading: &Reading, settings: Settings) -> Sample {
    Sample {
        bytes: *reading.scratchpad.bytes(),
        sixteenths: reading.temperature.sixteenths(),
        settings,
        doubts: reading.doubts,
        evidence: reading.evidence,
    }
}

/// Has `target` convert, and waits for it by the driver's looks and the clock `now_ns`.
pub(super) fn convert<L: Line>(
    bus: &mut Bus<L>,
    (target, wait, max_us): (Target, Wait, u32),
    now_ns: impl Fn() -> u64,
) -> Result<Converted, Trouble> {
    let mut conversion = Conversion::start(bus, target, wait, max_us)?;
    let started_ns = now_ns();
    let (mut looked_ns, mut grain_us, mut elapsed_us) = (started_ns, 0, 0);
    loop {
        match conversion.advance(bus, elapsed_us)? {
            Progress::Wait { us } => {
                bus.line().delay_us(us);
                elapsed_us = us_since(looked_ns, now_ns());
                grain_us = elapsed_us;
                looked_ns = now_ns();
            }
            Progress::Done(converted) => {
                let us = us_since(started_ns, now_ns());
                let busy = (wait == Wait::Poll).then_some(Busy { us, grain_us });
                return Ok(Converted { evidence: converted.evidence, busy });
            }
        }
    }
}

fn us_since(then_ns: u64, now_ns: u64) -> u32 {
    u32::try_from(now_ns.saturating_sub(then_ns) / 1000).unwrap_or(u32::MAX)
}
