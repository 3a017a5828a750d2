//! From a record to the figures of its run.
//!
//! Only what was measured on a sound line counts: a scenario breaks things on purpose, and what comes out then is its
//! own affair. While an injected fault stands, and in steps that must fail, nothing is taken.

use std::collections::BTreeMap;

use slotwise::bus::RomCode;

use slotwise_past::{Figure, FigureKind, FigureSubject};
use slotwise_record::{ReadingOutcome, ReadingRecord, Record, RunOutcome, StepData, StepRecord};
use slotwise_rig::FaultKind;
use slotwise_rig::reply::{LineRecord, SpreadRecord};
use slotwise_scenario::{Action, Expectation, Step};

/// Fewest sensors measured together for which one has neighbours: of two it is unknown which one moved.
const FEWEST_TOGETHER: usize = 3;

/// Thousandths of a degree in one sixteenth.
const MILLICELSIUS_PER_SIXTEENTH: f64 = 62.5;

/// Microseconds between two looks at a busy sensor at most, where the driver polls without a pause: a read slot.
/// Chosen: bus times of the driver are below this at any clock.
const POLL_GRAIN_US: f64 = 100.0;

/// All figures of a complete run. A partial run, or one on a broken rig, has no figures that can be compared.
#[must_use]
pub fn figures(record: &Record) -> Vec<Figure> {
    if matches!(record.end.outcome, RunOutcome::Interrupted | RunOutcome::Broken) {
        return Vec::new();
    }
    let mut walk = Walk::default();
    walk.steps(&record.scenario.steps, &record.steps);
    walk.into_figures(record)
}

/// A mean under way.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    sum: f64,
    count: u64,
    grain: f64,
}

impl Mean {
    fn add(&mut self, value: f64, grain: f64) {
        self.sum += value;
        self.count += 1;
        self.grain = self.grain.max(grain);
    }
}

/// Events among tries.
#[derive(Clone, Copy, Debug, Default)]
struct Count {
    events: u64,
    tries: u64,
}

impl Count {
    fn add(&mut self, happened: bool) {
        self.events += u64::from(happened);
        self.tries += 1;
    }
}

/// What has been seen on the way through the steps.
#[derive(Debug, Default)]
struct Walk {
    /// Kinds of fault that stand.
    faults: Vec<FaultKind>,
    means: BTreeMap<(FigureKind, FigureSubject), Mean>,
    counts: BTreeMap<(FigureKind, FigureSubject), Count>,
    requests: u64,
}

impl Walk {
    fn steps(&mut self, steps: &[Step], records: &[StepRecord]) {
        for record in records {
            let number = record.place.last().and_then(|number| number.checked_sub(1));
            if let Some(step) = number.and_then(|number| steps.get(number as usize)) {
                self.step(step, record);
            }
        }
    }

    fn step(&mut self, step: &Step, record: &StepRecord) {
        match (&step.action, &record.data) {
            // A dip of the supply is over with its step.
            (Action::Inject(_), StepData::FaultInjected { fault }) if fault.kind() == FaultKind::BrownOut => {}
            (Action::Inject(_), StepData::FaultInjected { fault }) => self.faults.push(fault.kind()),
            (Action::Clear(_), StepData::FaultCleared { fault }) => self.faults.retain(|standing| standing != fault),
            (Action::Repeat { steps, .. }, StepData::Rounds(rounds)) => {
                if self.faults.is_empty() {
                    let count = self.counts.entry((FigureKind::FailedRounds, FigureSubject::Whole)).or_default();
                    count.events += u64::from(rounds.failed);
                    count.tries += u64::from(rounds.begun);
                }
                for round in &rounds.kept {
                    self.steps(steps, &round.steps);
                }
            }
            (Action::Find { fails, .. }, StepData::Search { searches, found })
                if fails.is_empty() && self.faults.is_empty() =>
            {
                for sensor in found {
                    let count = self.count(FigureKind::Found, sensor.sensor.rom);
                    count.events += u64::from(sensor.times);
                    count.tries += u64::from(*searches);
                }
            }
            (Action::Measure(measure), StepData::Readings { readings, .. }) => {
                let must_fail = measure.expect.iter().any(|expected| matches!(expected, Expectation::Fails(_)));
                if self.faults.is_empty() && !must_fail {
                    self.readings(readings);
                }
            }
            _ => {}
        }
        if let Some(line) = record.line_report.as_ref().filter(|_| self.faults.is_empty()) {
            self.line(line);
        }
    }

    fn count(&mut self, kind: FigureKind, rom: RomCode) -> &mut Count {
        self.counts.entry((kind, FigureSubject::sensor(rom))).or_default()
    }

    fn mean(&mut self, kind: FigureKind, subject: FigureSubject) -> &mut Mean {
        self.means.entry((kind, subject)).or_default()
    }

    fn readings(&mut self, readings: &[ReadingRecord]) {
        let mut numbers: Vec<(RomCode, f64)> = Vec::new();
        for reading in readings {
            let rom = reading.sensor.rom;
            let number = match &reading.outcome {
                ReadingOutcome::Read(number) => Some(number),
                ReadingOutcome::Failed(_) => None,
            };
            self.count(FigureKind::FailedReadings, rom).add(number.is_none());
            if let Some(number) = number.filter(|number| number.doubts.is_empty()) {
                numbers.push((rom, f64::from(number.sixteenths) * MILLICELSIUS_PER_SIXTEENTH));
                if let Some(busy_us) = reading.busy_us {
                    let subject = FigureSubject::Sensor { rom, bits: number.resolution_bits };
                    self.mean(FigureKind::ConversionTime, subject).add(f64::from(busy_us), POLL_GRAIN_US);
                }
            }
        }
        if numbers.len() < FEWEST_TOGETHER {
            return;
        }
        for (rom, number) in &numbers {
            // Its own number is not among its neighbours: it would pull the median towards itself.
            let mut others: Vec<f64> =
                numbers.iter().filter(|(other, _)| other != rom).map(|(_, number)| *number).collect();
            if let Some(median) = median(&mut others) {
                self.mean(FigureKind::FromNeighbours, FigureSubject::sensor(*rom)).add(number - median, 0.0);
            }
        }
    }

    fn line(&mut self, line: &LineRecord) {
        self.requests += u64::from(line.requests);
        for (kind, spread) in [
            (FigureKind::RiseTime, line.rise_ns),
            (FigureKind::PresenceDelay, line.presence_delay_ns),
            (FigureKind::PresenceWidth, line.presence_width_ns),
        ] {
            if let Some(SpreadRecord { least, most }) = spread {
                let middle = f64::midpoint(f64::from(least), f64::from(most));
                self.mean(kind, FigureSubject::Whole).add(middle, f64::from(line.grain_ns));
            }
        }
    }

    fn into_figures(self, record: &Record) -> Vec<Figure> {
        let means = self.means.into_iter().map(|((kind, subject), mean)| Figure {
            kind,
            subject,
            value: mean.sum / mean.count as f64,
            of: mean.count,
            grain: mean.grain,
        });
        let counts = self.counts.into_iter().map(|((kind, subject), count)| Figure {
            kind,
            subject,
            value: count.events as f64,
            of: count.tries,
            grain: 0.0,
        });
        let whole = |kind, value: f64, of| Figure { kind, subject: FigureSubject::Whole, value, of, grain: 0.0 };
        let repeated = f64::from(record.end.link.repeated);
        let repeated = (self.requests > 0).then(|| whole(FigureKind::RepeatedRequests, repeated, self.requests));
        let image = record.bridge.image.iter().flat_map(|image| {
            [(FigureKind::Flash, image.flash_bytes), (FigureKind::Statics, image.statics_bytes)]
                .map(|(kind, bytes)| whole(kind, f64::from(bytes), 1))
        });
        means.chain(counts).chain(repeated).chain(image).collect()
    }
}

/// The middle one, or the mean of the two in the middle.
fn median(numbers: &mut [f64]) -> Option<f64> {
    numbers.sort_by(f64::total_cmp);
    let upper = *numbers.get(numbers.len() / 2)?;
    let lower = numbers[(numbers.len() - 1) / 2];
    Some(f64::midpoint(lower, upper))
}
