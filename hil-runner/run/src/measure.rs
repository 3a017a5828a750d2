//! Steps that convert and read.

use slotwise::bus::{RomCode, Target};
use slotwise::thermometer::{CONVERSION_MAX_US, Doubt, Evidence, Receipt, Supply, Wait};

use super::executor::{Executor, Findings};
use super::halt::Halt;
use crate::fresh::{self, persist};
use crate::judge::{MeasuredSensor, Outcome, unwatched};
use slotwise_limits::registers::Registers;
use slotwise_record::{Check, Ruling, Subject, Verdict};
use slotwise_record::{ConversionRecord, ReadingRecord, StepData};
use slotwise_record::{Event, Progress};
use slotwise_rig::Sensor;
use slotwise_rig::reply::{Busy, Converted, Failure, Sample, Trouble};
use slotwise_scenario::{Convert, Expectation, Measure, Proof, Reference, Values};
use slotwise_terms::FailureKind;

/// One round of readings.
pub(super) struct TakenRound {
    pub(super) conversion: Option<ConversionRecord>,
    /// In the order of the step; none if the conversion failed.
    pub(super) results: Vec<MeasuredSensor>,
    pub(super) readings: Vec<ReadingRecord>,
}

/// Whether sensors are counted as they are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Count {
    Shown,
    /// The caller shows how far the step has come.
    Silent,
}

/// What supports a reading beside its bytes.
#[derive(Clone, Copy)]
struct ReadingEvidence {
    evidence: Evidence,
    busy: Option<Busy>,
    /// How often it was measured again, alone.
    again: u32,
}

impl ReadingEvidence {
    const NONE: Self = Self { evidence: Evidence::None, busy: None, again: 0 };
}

/// One sensor's reading or failure, before it is recorded and judged.
struct Reading {
    /// Its place in the inventory.
    index: usize,
    outcome: Outcome,
    evidence: Evidence,
    busy: Option<Busy>,
    reference: Option<Result<i32, String>>,
    /// How often it was measured again, alone.
    again: u32,
    at_ns: u64,
}

/// A measurement as it grows.
struct Batch<'m> {
    measure: &'m Measure,
    /// The failures that it expects; none if it expects readings.
    fails: Vec<FailureKind>,
    count: Count,
    conversion: Option<ConversionRecord>,
    results: Vec<MeasuredSensor>,
    readings: Vec<ReadingRecord>,
}

impl<'m> Batch<'m> {
    fn new(measure: &'m Measure, count: Count) -> Self {
        let fails = measure.expect.iter().flat_map(|expectation| match expectation {
            Expectation::Fails(reasons) => reasons.as_slice(),
            _ => &[],
        });
        Self {
            measure,
            fails: fails.copied().collect(),
            count,
            conversion: None,
            results: Vec::new(),
            readings: Vec::new(),
        }
    }

    /// How often a sensor is measured alone for a proof: only once where the step is after a failure or after the doubt.
    fn tries(&self) -> u32 {
        let is_doubt =
            |expected: &Expectation| matches!(expected, Expectation::Doubt(Doubt::PowerOnValue | Doubt::NoConversion));
        if self.fails.is_empty() && !self.measure.expect.iter().any(is_doubt) { fresh::TRIES } else { 1 }
    }

    fn expects_rig_reference(&self) -> bool {
        self.measure
            .expect
            .iter()
            .any(|expectation| matches!(expectation, Expectation::Near { reference: Reference::Rig, .. }))
    }
}

impl Executor<'_> {
    pub(super) fn measure(&mut self, measure: &Measure, findings: &mut Findings) -> Result<(), Halt> {
        let mut batch = Batch::new(measure, Count::Shown);
        let measured = match measure.convert {
            Convert::Together => self.together(&mut batch, findings),
            Convert::OneByOne | Convert::Not => self.each(&mut batch),
        };
        // What was read before the user stopped it is judged; what a broken rig gave is not.
        if !matches!(measured, Err(Halt::Broken(_))) {
            findings.verdicts.extend(self.judge.measurement(measure, &batch.results));
        }
        findings.data =
            StepData::Readings { conversion: batch.conversion, readings: batch.readings, fixed_point: None };
        measured
    }

    /// One Convert T for all and a reading of each; judged elsewhere, but for a conversion that failed.
    pub(super) fn round(&mut self, measure: &Measure, findings: &mut Findings) -> Result<TakenRound, Halt> {
        let mut batch = Batch::new(measure, Count::Silent);
        self.together(&mut batch, findings)?;
        let Batch { conversion, results, readings, .. } = batch;
        Ok(TakenRound { conversion, results, readings })
    }

    /// All convert at the same time, then every sensor is read.
    fn together(&mut self, batch: &mut Batch<'_>, findings: &mut Findings) -> Result<(), Halt> {
        self.go_on()?;
        match batch.measure.proof {
            Proof::Each => self.together_proven(batch, findings),
            Proof::None => self.together_by_one_command(batch, findings),
        }
    }

    /// Each sensor shows that it converted.
    fn together_proven(&mut self, batch: &mut Batch<'_>, findings: &mut Findings) -> Result<(), Halt> {
        let sensors: Vec<fresh::Sensor> =
            batch.measure.sensors.iter().map(|index| fresh::Sensor::listed(self.sensor(*index))).collect();
        let converted = self.convert_proven(batch, &sensors);
        let (supply, busy, mut conversion) = match converted {
            Ok(converted) => converted,
            Err(trouble) => {
                let failure = self.judged(trouble, &batch.fails)?;
                self.conversion_failed(batch, &failure, findings);
                return Ok(());
            }
        };
        batch.conversion = Some(ConversionRecord { supply, busy_us: busy.map(|busy| busy.us) });
        let mut readings = Vec::with_capacity(sensors.len());
        let read = self.read_each(batch, (&sensors, &mut conversion), &mut readings);
        // Whatever was read, and even if the user ends the step: sensors do not keep a witness as their limits.
        for (place, trouble) in fresh::finish(self.bench, &conversion, &sensors) {
            let expected = "its own alarm limits again";
            let verdict = Verdict::new(Check::Settings, expected, "always", trouble.to_string(), Ruling::NotMet);
            let sensor = self.sensor(batch.measure.sensors[place]);
            findings.verdicts.push(verdict.about(Subject { label: Some(sensor.label.clone()), rom: sensor.rom }));
        }
        let again = read.and_then(|()| self.measure_again(batch, (&sensors, supply), &mut readings));
        for reading in readings {
            self.take(batch, reading);
        }
        again?;
        self.judge_common_time(batch, busy, findings);
        Ok(())
    }

    /// Measures those alone whose readings lack proof. Those of which that is expected stay as they are.
    fn measure_again(
        &mut self,
        batch: &Batch<'_>,
        (sensors, supply): (&[fresh::Sensor], Supply),
        readings: &mut [Reading],
    ) -> Result<(), Halt> {
        if batch.tries() == 1 {
            return Ok(());
        }
        for (sensor, reading) in sensors.iter().zip(readings) {
            let Ok(sample) = reading.outcome else { continue };
            if !fresh::lacks_proof(&sample) {
                continue;
            }
            self.go_on()?;
            let reference = self.reference(batch, reading.index);
            match self.memory.again(self.bench, (*sensor, supply), sample) {
                Ok(measured) => {
                    reading.again = measured.again;
                    if measured.sample.evidence == Evidence::Proven {
                        reading.outcome = Ok(measured.sample);
                        reading.evidence = measured.sample.evidence;
                        reading.reference = reference;
                        reading.at_ns = self.bench.now_ns();
                    }
                }
                Err(trouble) => reading.outcome = Err(self.judged(trouble, &batch.fails)?),
            }
        }
        Ok(())
    }

    /// Where the time counts, or a failure of the conversion is expected, a common one is polled to its end first.
    fn convert_proven(
        &mut self,
        batch: &Batch<'_>,
        sensors: &[fresh::Sensor],
    ) -> Result<(Supply, Option<Busy>, fresh::Conversion), Trouble> {
        let supply = fresh::supply(self.bench, self.rig, Target::All)?;
        let is_timed = batch.measure.expect.contains(&Expectation::InTime)
            || batch.fails.iter().any(|kind| matches!(kind, FailureKind::NotStarted | FailureKind::StillBusy));
        let busy = if is_timed && supply == Supply::Local { self.memory.time_surely(self.bench)? } else { None };
        let conversion = self.memory.convert(self.bench, sensors, supply)?;
        Ok((supply, busy, conversion))
    }

    /// Reads one after the other, up to where the user ends the step.
    fn read_each(
        &mut self,
        batch: &Batch<'_>,
        (sensors, conversion): (&[fresh::Sensor], &mut fresh::Conversion),
        readings: &mut Vec<Reading>,
    ) -> Result<(), Halt> {
        // All references before the first reading: temperatures go on changing while sensors are read.
        let references: Vec<_> = batch.measure.sensors.iter().map(|sensor| self.reference(batch, *sensor)).collect();
        for (place, ((index, sensor), reference)) in
            batch.measure.sensors.iter().zip(sensors).zip(references).enumerate()
        {
            self.go_on()?;
            let outcome = match self.memory.read(self.bench, conversion, (place, sensor)) {
                Ok(sample) => Ok(sample),
                Err(trouble) => Err(self.judged(trouble, &batch.fails)?),
            };
            let evidence = conversion.evidence(place, &outcome);
            let at_ns = self.bench.now_ns();
            readings.push(Reading { index: *index, outcome, evidence, busy: None, reference, again: 0, at_ns });
        }
        Ok(())
    }

    /// One Convert T for the whole line.
    fn together_by_one_command(&mut self, batch: &mut Batch<'_>, findings: &mut Findings) -> Result<(), Halt> {
        let supply = fresh::supply(self.bench, self.rig, Target::All);
        let converted = supply.and_then(|supply| Ok((supply, self.convert(Target::All, supply, Wait::Poll)?)));
        let (supply, Converted { busy, receipt }) = match converted {
            Ok(converted) => converted,
            Err(trouble) => {
                let failure = self.judged(trouble, &batch.fails)?;
                self.conversion_failed(batch, &failure, findings);
                return Ok(());
            }
        };
        batch.conversion = Some(ConversionRecord { supply, busy_us: busy.map(|busy| busy.us) });
        // All references before the first reading: temperatures go on changing while sensors are read.
        let references: Vec<_> = batch.measure.sensors.iter().map(|sensor| self.reference(batch, *sensor)).collect();
        // What is known is what was done, whatever the driver makes of it: of many, none is seen alone.
        let evidence = if supply == Supply::Local { Evidence::Polled } else { Evidence::Waited };
        for (index, reference) in batch.measure.sensors.iter().zip(references) {
            self.go_on()?;
            let outcome = self.read(batch, *index, &receipt)?;
            self.take_now(batch, *index, outcome, ReadingEvidence { evidence, busy: None, again: 0 }, reference);
        }
        self.judge_common_time(batch, busy, findings);
        Ok(())
    }

    fn judge_common_time(&mut self, batch: &Batch<'_>, busy: Option<Busy>, findings: &mut Findings) {
        if !batch.measure.expect.contains(&Expectation::InTime) {
            return;
        }
        let verdict = match busy {
            Some(busy) => {
                let converting = self.converting(&batch.results);
                self.judge.in_time(busy, &converting)
            }
            None => unwatched(),
        };
        findings.verdicts.push(verdict);
    }

    /// One sensor after the other, with a conversion of its own or with none.
    fn each(&mut self, batch: &mut Batch<'_>) -> Result<(), Halt> {
        for index in &batch.measure.sensors {
            self.go_on()?;
            let rom = self.sensor(*index).rom;
            if batch.measure.convert == Convert::Not {
                let reference = self.reference(batch, *index);
                let outcome = self.read(batch, *index, &Receipt::NONE)?;
                self.take_now(batch, *index, outcome, ReadingEvidence::NONE, reference);
                continue;
            }
            let known = self.own_conversion(batch, *index);
            let reference = self.reference(batch, *index);
            let (outcome, known) = match known {
                Ok((sample, known)) => (Ok(sample), known),
                Err(trouble) => {
                    let trouble = self.unless_absent(trouble, batch, rom);
                    (Err(self.judged(trouble, &batch.fails)?), ReadingEvidence::NONE)
                }
            };
            self.take_now(batch, *index, outcome, known, reference);
        }
        Ok(())
    }

    /// A conversion of one sensor alone and its reading, with what is known of it by what was done, whatever the driver makes of it, and how
    /// often it was measured again. A power-on value is measured again with proof that the sensor was not reset, unless that is what the
    /// scenario is after.
    fn own_conversion(&mut self, batch: &Batch<'_>, index: usize) -> Result<(Sample, ReadingEvidence), Trouble> {
        let sensor = fresh::Sensor::listed(self.sensor(index));
        let target = Target::One(sensor.rom);
        let is_proven = batch.measure.proof == Proof::Each;
        let supply = fresh::supply(self.bench, self.rig, target)?;
        if supply == Supply::Parasite && is_proven {
            let (sample, tried) = self.memory.prove(self.bench, sensor, (supply, batch.tries()))?;
            return Ok((sample, ReadingEvidence { evidence: sample.evidence, busy: None, again: tried - 1 }));
        }
        let (wait, evidence) = match (supply, is_proven) {
            (Supply::Parasite, _) => (Wait::StrongPullUp, Evidence::Waited),
            (Supply::Local, true) => (Wait::PollAndTime, Evidence::SeenBusy),
            (Supply::Local, false) => (Wait::Poll, Evidence::Polled),
        };
        let is_timed = supply == Supply::Local && batch.measure.expect.contains(&Expectation::InTime);
        // A pulse that resets the sensor looks like an early end.
        let (receipt, busy) = fresh::surely(if is_timed { fresh::TRIES } else { 1 }, || {
            let Converted { receipt, busy } = self.insist(batch, |run| run.convert(target, supply, wait))?;
            Ok((receipt, busy))
        })?;
        let sample = if is_proven {
            fresh::twice(self.bench, &sensor, &receipt)?
        } else {
            self.bench.read(sensor.rom, &receipt)?
        };
        let doubt = Doubt::PowerOnValue;
        if !sample.doubts.contains(doubt) || batch.measure.expect.contains(&Expectation::Doubt(doubt)) {
            return Ok((sample, ReadingEvidence { evidence, busy, again: 0 }));
        }
        let (sample, again) = self.memory.prove(self.bench, sensor, (supply, batch.tries()))?;
        Ok((sample, ReadingEvidence { evidence: sample.evidence, busy, again }))
    }

    /// Tries again what a pulse may have spoilt, unless it is to fail.
    fn insist<T>(
        &mut self,
        batch: &Batch<'_>,
        mut attempt: impl FnMut(&mut Self) -> Result<T, Trouble>,
    ) -> Result<T, Trouble> {
        if batch.fails.is_empty() { persist(|| attempt(self)) } else { attempt(self) }
    }

    /// The trouble of a sensor that did not start to convert; if it is not on the line, that it is not there.
    fn unless_absent(&mut self, trouble: Trouble, batch: &Batch<'_>, rom: RomCode) -> Trouble {
        let is_expected = batch.fails.contains(&FailureKind::NotStarted);
        if trouble.kind() != Some(FailureKind::NotStarted) || is_expected || self.bench.is_present(rom) != Ok(false) {
            return trouble;
        }
        Trouble::failed(
            FailureKind::NoAnswer,
            "the sensor is not on the line (no device answered a search for its ROM code)",
        )
    }

    /// Converts by these polls, or in the way that parasite power allows.
    fn convert(&mut self, target: Target, supply: Supply, polls: Wait) -> Result<Converted, Trouble> {
        match supply {
            // A polled conversion ends by itself, so this is only the longest it may take.
            Supply::Local => self.bench.convert(target, polls, CONVERSION_MAX_US),
            Supply::Parasite => {
                let longest_us = self.slowest_us(target);
                self.bench.convert(target, Wait::StrongPullUp, longest_us)
            }
        }
    }

    /// The longest that the slowest sensor of `target` may take, by its configuration. Without an answer, the longest of all.
    fn slowest_us(&mut self, target: Target) -> u32 {
        let rig = self.rig;
        let sensors = rig.inventory.iter().filter(|sensor| target == Target::All || target == Target::One(sensor.rom));
        let times = sensors.map(|sensor| {
            let registers = self.registers(sensor);
            registers
                .and_then(|registers| self.judge.conversion_max(&registers))
                .map_or(CONVERSION_MAX_US, |(us, _)| us)
        });
        times.max().unwrap_or(CONVERSION_MAX_US)
    }

    /// The registers of all sensors that took part in a common conversion: those read, and the others of the inventory.
    fn converting(&mut self, results: &[MeasuredSensor]) -> Vec<Registers> {
        let rig = self.rig;
        let sensors = rig.inventory.iter().enumerate();
        sensors
            .filter_map(|(index, sensor)| match results.iter().find(|result| result.sensor == index) {
                Some(MeasuredSensor { outcome: Ok(sample), part, .. }) => Registers::inspect(*part, sample.bytes).ok(),
                Some(MeasuredSensor { outcome: Err(_), .. }) => None,
                None => self.registers(sensor),
            })
            .collect()
    }

    fn registers(&mut self, sensor: &Sensor) -> Option<Registers> {
        let bytes = self.bench.scratchpad(sensor.rom).ok()?;
        Registers::inspect(sensor.part, bytes).ok()
    }

    fn read(&mut self, batch: &Batch<'_>, index: usize, receipt: &Receipt) -> Result<Outcome, Halt> {
        match self.bench.read(self.sensor(index).rom, receipt) {
            Ok(sample) => Ok(Ok(sample)),
            Err(trouble) => Ok(Err(self.judged(trouble, &batch.fails)?)),
        }
    }

    fn reference(&mut self, batch: &Batch<'_>, sensor: usize) -> Option<Result<i32, String>> {
        let is_needed = batch.expects_rig_reference();
        is_needed.then(|| self.bench.reference_millicelsius(sensor).map_err(|trouble| trouble.to_string()))
    }

    /// A common conversion that failed: one verdict, or as many failures as sensors where failures are expected.
    fn conversion_failed(&mut self, batch: &mut Batch<'_>, failure: &Failure, findings: &mut Findings) {
        if batch.fails.is_empty() {
            findings.verdicts.push(Verdict::new(
                Check::Conversion,
                "a conversion to its end",
                "always",
                &*failure.text,
                Ruling::NotMet,
            ));
            return;
        }
        for index in &batch.measure.sensors {
            self.take_now(batch, *index, Err(failure.clone()), ReadingEvidence::NONE, None);
        }
    }

    fn take_now(
        &mut self,
        batch: &mut Batch<'_>,
        index: usize,
        outcome: Outcome,
        ReadingEvidence { evidence, busy, again }: ReadingEvidence,
        reference: Option<Result<i32, String>>,
    ) {
        let at_ns = self.bench.now_ns();
        self.take(batch, Reading { index, outcome, evidence, busy, reference, again, at_ns });
    }

    fn take(&mut self, batch: &mut Batch<'_>, reading: Reading) {
        let Reading { index, outcome, evidence, busy, reference: rig_reference, again, at_ns } = reading;
        let sensor = self.sensor(index);
        let subject = Subject { label: Some(sensor.label.clone()), rom: sensor.rom };
        let correction = match batch.measure.values {
            Values::AsRead => None,
            Values::Corrected => sensor.correction.clone(),
        };
        let part = sensor.part;
        let measured =
            MeasuredSensor { sensor: index, subject, part, outcome, evidence, rig_reference, correction, busy };
        batch.readings.push(self.report(&measured, (again, at_ns)));
        batch.results.push(measured);
        if batch.count == Count::Silent {
            return;
        }
        let progress = Progress::Count { done: batch.results.len() as u64, total: batch.measure.sensors.len() as u64 };
        self.listener.notice(&Event::Progress { place: &self.place, progress });
    }

    /// A sensor of the inventory. The scenario was checked against this rig, so it is there.
    pub(super) fn sensor(&self, index: usize) -> &'_ Sensor {
        &self.rig.inventory[index]
    }
}
