//! Reading what was converted with proof.

use slotwise::thermometer::{Doubt, Evidence, Receipt, Settings, Supply};

use super::alone::Measurement;
use super::memory::{Memory, Sensor, longest_us, persist};
use slotwise_bench::Bench;
use slotwise_rig::reply::{Failure, Sample, Trouble};
use slotwise_terms::FailureKind;

/// A scratchpad is read until two readings in a row are the same, at most so often.
const READS: u32 = 5;

/// A conversion that was waited for.
#[derive(Clone, Debug)]
pub struct Conversion {
    /// By sensor, in the order in which they were named: what to read it with, or what befell it.
    pub(super) receipts: Vec<Result<Receipt, Trouble>>,
    /// The longest conversion time that was waited for.
    pub(super) waited_us: u32,
    /// By sensor, where limits were written as a witness.
    pub(super) witnessed: Vec<Option<Witnessed>>,
}

/// A sensor whose alarm limits are a witness for the time being.
#[derive(Clone, Copy, Debug)]
pub(super) struct Witnessed {
    /// Its own settings, which it is to have afterwards.
    pub(super) own: Settings,
    /// What it was given as a mark; none if that failed.
    pub(super) mark: Option<Settings>,
    /// Whether its alarm flag has turned over.
    pub(super) turned: bool,
}

impl Conversion {
    pub(super) fn new(receipts: impl Iterator<Item = Result<Receipt, Trouble>>, waited_us: u32) -> Self {
        let receipts: Vec<_> = receipts.collect();
        let witnessed = vec![None; receipts.len()];
        Self { receipts, waited_us, witnessed }
    }
}

impl Conversion {
    /// What the readings of the sensor at this place are known to be, by what was done and not by the driver's word.
    pub fn evidence(&self, place: usize, outcome: &Result<Sample, Failure>) -> Evidence {
        match (outcome, &self.receipts[place], self.witnessed[place]) {
            (Ok(sample), Ok(_), Some(_)) => sample.evidence,
            (Ok(_), Ok(_), None) => Evidence::SeenBusy,
            _ => Evidence::None,
        }
    }
}

impl Memory {
    /// Reads the sensor at this place of those that converted.
    ///
    /// # Errors
    /// [`Trouble`] if there is no number, or if it did not convert.
    pub fn read(
        &mut self,
        bench: &mut dyn Bench,
        conversion: &mut Conversion,
        (place, sensor): (usize, &Sensor),
    ) -> Result<Sample, Trouble> {
        let receipt = conversion.receipts[place].clone()?;
        let mut sample = twice(bench, sensor, &receipt)?;
        let needed_us = longest_us(sensor.part, sample.settings.resolution);
        self.learn(sensor.rom, sample.settings.resolution);
        if needed_us > conversion.waited_us {
            // Others may be as slow; each is waited for by what it says itself.
            bench.wait_us(u64::from(needed_us - conversion.waited_us) * 33 / 32)?;
            conversion.waited_us = needed_us;
            sample = twice(bench, sensor, &receipt)?;
        }
        if let Some(witnessed) = conversion.witnessed[place] {
            attest(&mut sample, witnessed);
        }
        Ok(sample)
    }

    /// Converts and reads, each sensor with its reading or its trouble. Readings without proof are measured again.
    ///
    /// # Errors
    /// [`Trouble`] if no request reaches any of them.
    pub fn measure(
        &mut self,
        bench: &mut dyn Bench,
        sensors: &[Sensor],
        supply: Supply,
    ) -> Result<Vec<Result<Measurement, Trouble>>, Trouble> {
        let mut conversion = self.convert(bench, sensors, supply)?;
        let mut samples: Vec<_> = sensors
            .iter()
            .enumerate()
            .map(|(place, sensor)| self.read(bench, &mut conversion, (place, sensor)))
            .collect();
        for (place, trouble) in finish(bench, &conversion, sensors) {
            samples[place] = Err(trouble);
        }
        let measured =
            sensors.iter().zip(samples).map(|(sensor, sample)| self.again(bench, (*sensor, supply), sample?));
        Ok(measured.collect())
    }
}

/// Gives sensors whose limits were a witness their own settings back. Returns those, by place, that did not take them.
pub fn finish(bench: &mut dyn Bench, conversion: &Conversion, sensors: &[Sensor]) -> Vec<(usize, Trouble)> {
    let mut failed = Vec::new();
    for (place, (sensor, witnessed)) in sensors.iter().zip(&conversion.witnessed).enumerate() {
        let Some(witnessed) = witnessed else { continue };
        if let Err(trouble) = persist(|| bench.write(sensor.rom, witnessed.own)) {
            failed.push((place, trouble));
        }
    }
    failed
}

/// Reads until two readings in a row are the same.
pub fn twice(bench: &mut dyn Bench, sensor: &Sensor, receipt: &Receipt) -> Result<Sample, Trouble> {
    let mut last: Option<Sample> = None;
    let mut trouble = None;
    for _ in 0..READS {
        match bench.read(sensor.rom, receipt) {
            Ok(sample) => {
                if last.is_some_and(|last| last.bytes == sample.bytes) {
                    return Ok(sample);
                }
                last = Some(sample);
            }
            Err(failed @ Trouble::Failed(_)) => {
                // A failure that is there twice, with nothing between, is no glitch either.
                if last.is_none() && trouble.as_ref() == Some(&failed) {
                    return Err(failed);
                }
                trouble = Some(failed);
                last = None;
            }
            Err(other) => return Err(other),
        }
    }
    Err(trouble.unwrap_or_else(|| Trouble::failed(FailureKind::Crc, DIFFERENT)))
}

/// A line that damages frames gives readings of which no two are the same.
const DIFFERENT: &str = "no two readings of the scratchpad are the same: frames are damaged, and a CRC happens to fit";

/// Makes a reading say what its witness shows. The driver knew only that it was waited for.
fn attest(sample: &mut Sample, Witnessed { mark, turned, .. }: Witnessed) {
    let is_proven = turned && mark.is_some_and(|mark| sample.settings.limits == mark.limits);
    sample.evidence = if is_proven { Evidence::Proven } else { Evidence::None };
    if is_proven {
        sample.doubts.remove(Doubt::PowerOnValue);
    } else {
        sample.doubts.insert(Doubt::NoConversion);
    }
}
