//! What is remembered of sensors from one conversion to the next.

use std::collections::BTreeMap;

use slotwise::bus::{RomCode, Target};
use slotwise::thermometer::{AlarmLimits, CONVERSION_MAX_US, Family, Resolution, Supply, Wait};

use super::reading::Conversion;
use super::supply::supply;
use super::{round, witness};
use slotwise_bench::Bench;
use slotwise_rig as rig;
use slotwise_rig::Rig;
use slotwise_rig::reply::{Busy, Trouble};
use slotwise_terms::FailureKind;

/// A sensor that is to be measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sensor {
    pub rom: RomCode,
    pub part: Family,
}

impl Sensor {
    /// A sensor of an inventory.
    pub const fn listed(sensor: &rig::Sensor) -> Self {
        Self { rom: sensor.rom, part: sensor.part }
    }

    /// A sensor by its ROM code; none if the driver does not decode its family.
    pub fn of(rom: RomCode) -> Option<Self> {
        Family::of(rom).map(|part| Self { rom, part })
    }
}

/// What is remembered of sensors. Begins empty, and then waits for the longest conversion there is.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    /// Every sensor that is known to be on the line.
    line: Vec<Sensor>,
    resolutions: BTreeMap<RomCode, Option<Resolution>>,
    eeprom: BTreeMap<RomCode, AlarmLimits>,
    /// How long the slowest sensor was busy in a common conversion that was polled to its end.
    slowest_us: Option<u32>,
    /// Alarm flags follow the limits of a proof, and not those that the sensors hold.
    are_flags_turned: bool,
}

/// How often something on the line is tried before its failure counts: a pulse hits one try, seldom three.
pub const TRIES: u32 = 3;

/// Tries until it works or has failed [`TRIES`] times. What no pulse on the line can have done is not tried again.
pub fn persist<T>(mut attempt: impl FnMut() -> Result<T, Trouble>) -> Result<T, Trouble> {
    let mut tried = 1;
    loop {
        match attempt() {
            Err(Trouble::Failed(failure)) if tried < TRIES && may_be_a_pulse(failure.kind) => tried += 1,
            other => return other,
        }
    }
}

/// Times a conversion until two in a row took the same time, at most so often. Returns what the last gave, and the longest time of all.
pub fn surely<T>(
    times: u32,
    mut timed: impl FnMut() -> Result<(T, Option<Busy>), Trouble>,
) -> Result<(T, Option<Busy>), Trouble> {
    let (mut given, first) = timed()?;
    let Some(mut last) = first else { return Ok((given, None)) };
    let mut longest = last;
    for _ in 1..times {
        let (again, Some(busy)) = timed()? else { break };
        given = again;
        let is_same = busy.us.abs_diff(last.us) <= busy.grain_us + busy.us / SAME_SHARE;
        last = busy;
        if busy.us > longest.us {
            longest = busy;
        }
        if is_same {
            break;
        }
    }
    Ok((given, Some(longest)))
}

/// Two times are the same that differ by no more than this share (chosen).
const SAME_SHARE: u32 = 32;

/// A sensor that is too slow stays so, and no switch grows on a rig.
pub(super) const fn may_be_a_pulse(kind: FailureKind) -> bool {
    !matches!(kind, FailureKind::StillBusy | FailureKind::NoStrongPullUp)
}

impl Memory {
    /// Of a line with these sensors.
    pub fn of(rig: &Rig) -> Self {
        let line = rig.inventory.iter().map(Sensor::listed).collect();
        Self { line, ..Self::default() }
    }

    /// Forgets what may have changed: settings were written, the power was off, or the rig was changed.
    pub fn forget(&mut self) {
        self.resolutions.clear();
        self.eeprom.clear();
        self.slowest_us = None;
    }

    /// Has these sensors convert, each with proof, and waits for them.
    ///
    /// # Errors
    /// [`Trouble`] if no request reaches any of them; the trouble of a single one is in the conversion.
    pub fn convert(
        &mut self,
        bench: &mut dyn Bench,
        sensors: &[Sensor],
        supply: Supply,
    ) -> Result<Conversion, Trouble> {
        match supply {
            Supply::Local if sensors.len() == 1 => round::convert_alone(self, bench, &sensors[0]),
            Supply::Local => {
                if self.slowest_us.is_none() {
                    match self.time(bench) {
                        // What a pulse did to it is no reason not to measure.
                        Err(Trouble::Failed(failure)) if failure.kind != FailureKind::StillBusy => {}
                        timed => drop(timed?),
                    }
                }
                round::convert(self, bench, sensors)
            }
            Supply::Parasite => {
                self.note_proof();
                witness::convert(self, bench, sensors)
            }
        }
    }

    /// A proof has written limits of its own, which the alarm flags follow until the next conversion.
    pub(crate) fn note_proof(&mut self) {
        self.are_flags_turned = true;
    }

    /// Makes the alarm flags follow the limits that the sensors hold, by one more conversion of all where a proof has turned them.
    ///
    /// # Errors
    /// [`Trouble`] if they did not convert.
    pub(crate) fn restore_flags(&mut self, bench: &mut dyn Bench, rig: &Rig) -> Result<(), Trouble> {
        if self.are_flags_turned {
            let wait = Wait::suits(supply(bench, rig, Target::All)?);
            persist(|| bench.convert(Target::All, wait, CONVERSION_MAX_US))?;
            self.are_flags_turned = false;
        }
        Ok(())
    }

    /// Polls common conversions to their ends, until two in a row took the same time or [`TRIES`] are over: a pulse that resets the sensors
    /// looks like an early end. The longest that was seen counts.
    ///
    /// # Errors
    /// [`Trouble`] if a sensor is slower than any may be, or none converts.
    pub(crate) fn time_surely(&mut self, bench: &mut dyn Bench) -> Result<Option<Busy>, Trouble> {
        let longest = surely(TRIES, || Ok(((), self.time(bench)?)))?.1;
        self.slowest_us = longest.map(|busy| busy.us);
        Ok(longest)
    }

    /// Polls a common conversion to its end.
    ///
    /// # Errors
    /// [`Trouble`] if a sensor is slower than any may be, or none converts.
    pub fn time(&mut self, bench: &mut dyn Bench) -> Result<Option<Busy>, Trouble> {
        let converted = persist(|| bench.convert(Target::All, Wait::Poll, CONVERSION_MAX_US))?;
        self.slowest_us = converted.busy.map(|busy| busy.us);
        Ok(converted.busy)
    }

    pub(super) fn learn(&mut self, rom: RomCode, resolution: Option<Resolution>) {
        self.resolutions.insert(rom, resolution);
    }

    /// The longest that any of these, or of the others on the line, may take by what they reported last.
    pub(super) fn longest_us(&self, sensors: &[Sensor]) -> u32 {
        let longest = self.line.iter().chain(sensors).map(|sensor| match self.resolutions.get(&sensor.rom) {
            Some(resolution) => longest_us(sensor.part, *resolution),
            None => CONVERSION_MAX_US,
        });
        // A sensor that is slower than its datasheet allows is waited for as well.
        longest.chain(self.slowest_us).max().unwrap_or(CONVERSION_MAX_US)
    }

    /// The alarm limits in the EEPROM of a sensor; recalled once, which puts them into its scratchpad.
    pub(super) fn eeprom_limits(&mut self, bench: &mut dyn Bench, rom: RomCode) -> Result<AlarmLimits, Trouble> {
        if let Some(limits) = self.eeprom.get(&rom) {
            return Ok(*limits);
        }
        let limits = bench.recall(rom)?.limits;
        self.eeprom.insert(rom, limits);
        Ok(limits)
    }
}

/// The longest conversion of a part (DS18B20 datasheet (7/19), Table 2).
pub(super) fn longest_us(part: Family, resolution: Option<Resolution>) -> u32 {
    part.conversion_max_us(resolution.unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_that_a_pulse_cut_short_is_taken_again_and_the_longest_counts() {
        let busy = |us| Some(Busy { us, grain_us: 1_000 });
        let longest = |times: &[u32]| {
            let mut left = times.iter();
            let timed = surely(TRIES, || Ok(((), busy(*left.next().expect("no more is timed"))))).unwrap();
            (timed.1.map(|busy| busy.us), left.len())
        };
        // A quiet line: two are enough.
        assert_eq!(longest(&[600_000, 601_000, 1]), (Some(601_000), 1));
        // A pulse in the first, and in the second.
        assert_eq!(longest(&[1_200, 900_000, 900_500]), (Some(900_500), 0));
        assert_eq!(longest(&[900_000, 1_200, 900_500]), (Some(900_500), 0));
    }
}
