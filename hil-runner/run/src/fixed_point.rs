//! Steps that bring sensors to a fixed point, wait until the bath is stable, and hold each sensor against it.

use std::collections::VecDeque;

use slotwise::thermometer::Doubt;

use super::executor::{Executor, Findings};
use super::halt::Halt;
use super::measure::TakenRound;
use crate::judge::{MeasuredSensor, judge_at_fixed_point, judge_bath};
use slotwise_bench::Pace;
use slotwise_record::{
    BathState, ConversionRecord, FixedPointRecord, FixedPointSensor, ReadNumber, ReadingOutcome, ReadingRecord,
    StepData,
};
use slotwise_record::{Check, Subject, Verdict};
use slotwise_record::{Event, Progress};
use slotwise_scenario::{Action, Convert, FixedPointCheck, Measure, Proof, Values};
use slotwise_terms::fixed_point::{Bath, HOT_MILLICELSIUS, HOT_WATER, SensorInBath, Steadiness, Stir, spacing_ms};

const NS_PER_MS: u64 = 1_000_000;

/// What has been seen of a bath so far.
struct WatchedBath<'c> {
    check: &'c FixedPointCheck,
    started_ns: u64,
    bath: Bath,
    stir: Stir,
    rounds: u32,
    /// The readings of the window, round by round; of the last round at the least.
    readings: VecDeque<Vec<ReadingRecord>>,
    conversion: Option<ConversionRecord>,
    /// When the rounds began in which a sensor gave no number, if it gives none.
    silent_since_ns: Vec<Option<u64>>,
    /// A number that is not the one of its bytes is never forgiven, the first one of each sensor is kept.
    wrong: Vec<Verdict>,
    /// Of the last round.
    last: Vec<Verdict>,
}

/// Whether to go on reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Next {
    Read,
    End,
}

impl<'c> WatchedBath<'c> {
    fn new(check: &'c FixedPointCheck, started_ns: u64) -> Self {
        let steadiness = Steadiness {
            within_millicelsius: check.stable_within_millicelsius,
            window_ns: check.stable_for_ms * NS_PER_MS,
        };
        Self {
            check,
            started_ns,
            bath: Bath::new(steadiness),
            stir: Stir::Moving,
            rounds: 0,
            readings: VecDeque::new(),
            conversion: None,
            silent_since_ns: vec![None; check.sensors.len()],
            wrong: Vec::new(),
            last: Vec::new(),
        }
    }

    fn add(&mut self, at_ns: u64, round: TakenRound, verdicts: Vec<Verdict>) {
        self.rounds += 1;
        let numbers: Vec<Option<i16>> =
            (0..self.check.sensors.len()).map(|place| round.results.get(place).and_then(reliable)).collect();
        for (number, since_ns) in numbers.iter().zip(&mut self.silent_since_ns) {
            match number {
                Some(_) => *since_ns = None,
                None => *since_ns = since_ns.or(Some(at_ns)),
            }
        }
        self.stir = self.bath.add(at_ns, &numbers);
        self.conversion = round.conversion;
        self.readings.push_back(round.readings);
        while self.readings.len() > self.bath.rounds().max(1) {
            self.readings.pop_front();
        }
        for verdict in verdicts.iter().filter(|verdict| verdict.check == Check::Number && !verdict.is_met()) {
            if self.wrong.iter().all(|known| known.sensor != verdict.sensor) {
                self.wrong.push(verdict.clone());
            }
        }
        self.last = verdicts;
    }

    fn next(&self, now_ns: u64) -> Next {
        let silent = self
            .silent_since_ns
            .iter()
            .flatten()
            .any(|since_ns| now_ns.saturating_sub(*since_ns) >= self.check.stable_for_ms * NS_PER_MS);
        let passed_ms = now_ns.saturating_sub(self.started_ns) / NS_PER_MS;
        if self.stir == Stir::Stable || silent || passed_ms >= self.check.give_up_ms { Next::End } else { Next::Read }
    }

    fn silent(&self, names: &[Subject]) -> Vec<Subject> {
        let silent = self.silent_since_ns.iter().zip(names).filter(|(since_ns, _)| since_ns.is_some());
        silent.map(|(_, name)| name.clone()).collect()
    }

    fn record(&self, names: &[Subject]) -> FixedPointRecord {
        let at = self.check.at;
        let millicelsius = at.millicelsius();
        let sensors = self.bath.sensors();
        FixedPointRecord {
            at,
            millicelsius,
            source: at.source(),
            bath: match self.stir {
                Stir::Stable => BathState::Stable,
                Stir::Moving => BathState::NotStable,
            },
            rounds: self.rounds,
            window_ns: self.bath.window_ns(),
            spread_drift_millicelsius: self.bath.spread_drift_millicelsius(),
            sensors: names.iter().zip(sensors).map(|(name, seen)| self.sensor(name, seen, millicelsius)).collect(),
        }
    }

    fn sensor(&self, name: &Subject, seen: SensorInBath, millicelsius: i32) -> FixedPointSensor {
        let of_it = self.readings.iter().flatten().filter(|reading| reading.sensor == *name);
        let bits = of_it.filter_map(|reading| match &reading.outcome {
            ReadingOutcome::Read(ReadNumber { resolution_bits, .. }) => *resolution_bits,
            ReadingOutcome::Failed(_) => None,
        });
        FixedPointSensor {
            sensor: name.clone(),
            readings: seen.readings,
            mean_millicelsius: seen.mean_millicelsius,
            span_millicelsius: seen.span_millicelsius,
            drift_millicelsius: seen.drift_millicelsius,
            correction_millicelsius: millicelsius - seen.mean_millicelsius,
            resolution_bits: bits.min(),
        }
    }
}

/// A number that nothing speaks against. That a shared family code is this part is what the inventory says.
fn reliable(measured: &MeasuredSensor) -> Option<i16> {
    let sample = measured.outcome.as_ref().ok()?;
    sample.doubts.iter().all(|doubt| doubt == Doubt::SharedFamily).then_some(sample.sixteenths)
}

impl Executor<'_> {
    /// What must be known before a step begins.
    pub(super) fn cautions(&self, action: &Action) -> Vec<String> {
        match action {
            Action::FixedPoint(check) => vec![check.at.caution().into()],
            // In virtual time there is no person at the bath.
            Action::Ambient { to_millicelsius, .. }
                if *to_millicelsius >= HOT_MILLICELSIUS && self.bench.pace() == Pace::RealTime =>
            {
                vec![HOT_WATER.into()]
            }
            _ => Vec::new(),
        }
    }

    /// Shows the cautions and waits until the operator confirms them.
    pub(super) fn warn(&mut self, cautions: &[String]) -> Result<(), Halt> {
        for caution in cautions {
            self.listener.notice(&Event::Caution { place: &self.place, text: caution });
            let warned = self.bench.warn(caution);
            self.rig_did(warned)?;
        }
        Ok(())
    }

    pub(super) fn fixed_point(&mut self, check: &FixedPointCheck, findings: &mut Findings) -> Result<(), Halt> {
        let did = self.bench.immerse(&check.sensors, check.at);
        self.rig_did(did)?;
        let mut watched = WatchedBath::new(check, self.bench.now_ns());
        let ended = self.watch(&mut watched);
        let names: Vec<Subject> = check.sensors.iter().map(|index| self.subject(*index)).collect();
        let found = watched.record(&names);
        if ended.is_ok() {
            self.judge_fixed_point(&watched, &found, &names, findings);
        }
        let readings = watched.readings.into_iter().flatten().collect();
        findings.data = StepData::Readings { conversion: watched.conversion, readings, fixed_point: Some(found) };
        ended
    }

    fn judge_fixed_point(
        &self,
        watched: &WatchedBath<'_>,
        found: &FixedPointRecord,
        names: &[Subject],
        findings: &mut Findings,
    ) {
        let took_ns = self.bench.now_ns().saturating_sub(watched.started_ns);
        findings.verdicts.push(judge_bath(watched.check, found, &watched.silent(names), took_ns));
        if found.bath == BathState::Stable {
            findings.verdicts.extend(
                watched
                    .check
                    .sensors
                    .iter()
                    .zip(&found.sensors)
                    .map(|(index, seen)| judge_at_fixed_point(watched.check, found, self.sensor(*index), seen)),
            );
        }
        let is_new = |verdict: &&Verdict| watched.wrong.iter().all(|wrong| wrong != *verdict);
        findings.verdicts.extend(watched.last.iter().filter(is_new).cloned());
        findings.verdicts.extend(watched.wrong.iter().cloned());
    }

    /// Reads round after round, until the bath is stable or there is no more time.
    fn watch(&mut self, watched: &mut WatchedBath<'_>) -> Result<(), Halt> {
        let check = watched.check;
        let measure = Measure {
            sensors: check.sensors.clone(),
            convert: Convert::Together,
            proof: Proof::Each,
            values: Values::AsRead,
            expect: Vec::new(),
        };
        let spacing_ms = spacing_ms(check.stable_for_ms);
        loop {
            self.go_on()?;
            let round_ns = self.bench.now_ns();
            let mut of_round = Findings::default();
            let round = self.round(&measure, &mut of_round)?;
            of_round.verdicts.extend(self.judge.measurement(&measure, &round.results));
            watched.add(round_ns, round, of_round.verdicts);
            let now_ns = self.bench.now_ns();
            let passed_ms = now_ns.saturating_sub(watched.started_ns) / NS_PER_MS;
            let progress = Progress::RigTime { passed_ms, total_ms: check.give_up_ms };
            self.listener.notice(&Event::Progress { place: &self.place, progress });
            if watched.next(now_ns) == Next::End {
                return Ok(());
            }
            self.pass(spacing_ms.saturating_sub(now_ns.saturating_sub(round_ns) / NS_PER_MS))?;
        }
    }

    fn subject(&self, index: usize) -> Subject {
        let sensor = self.sensor(index);
        Subject { label: Some(sensor.label.clone()), rom: sensor.rom }
    }
}
