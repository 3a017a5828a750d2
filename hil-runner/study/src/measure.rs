//! Conversions, one sensor at a time, at every resolution, timed and read.

use slotwise::bus::Target;
use slotwise::thermometer::{Doubt, Resolution, Settings, Supply, Wait};

use super::bus_time::BusSamples;
use super::datasheet::{choices, conversion_max_us};
use super::members::{Member, Party, Remark, gather, restore};
use slotwise_bench::Bench;
use slotwise_rig::Rig;
use slotwise_rig::reply::{Busy, Trouble};
use slotwise_run::is_of_line;
use slotwise_terms::Stop;

/// Everything that requests take beside the conversion, for each conversion (chosen: two reads of a long line and two round
/// trips through a debug probe).
const OVERHEAD_US: u64 = 60_000;
/// How long a study of a rig may take by default (chosen).
const USUAL_US: u64 = 120_000_000;
/// Fewer say nothing about noise (chosen).
const FEWEST: u64 = 3;
/// Most by default (chosen).
const USUAL_MOST: u64 = 50;

/// What one sensor did at one resolution.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// Its place among the members.
    pub member: usize,
    /// The resolution; `None` where there is none to choose.
    pub resolution: Option<Resolution>,
    /// How long it was busy, where that can be seen.
    pub busy: Vec<Busy>,
    /// Its readings without a doubt, in the order in which they were made.
    pub sixteenths: Vec<i16>,
    /// Readings that may be no measurement.
    pub doubtful: u32,
    /// Conversions or reads that failed.
    pub failed: u32,
    /// How the first of them failed.
    pub failure: Option<String>,
}

/// The measurements of a study.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredSensors {
    /// Who took part, and who did not.
    pub party: Party,
    /// How often each sensor converted at each resolution.
    pub repeats: u32,
    /// What each did at each.
    pub series: Vec<Series>,
    /// What was seen of the line meanwhile.
    pub bus: BusSamples,
    /// Whose settings were not restored.
    pub not_restored: Vec<Remark>,
    /// Whether all was measured; not where the user ended it early.
    pub complete: bool,
}

/// Why a study was given up. The settings were restored as far as that was possible.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{why}")]
pub struct Abandoned {
    /// Why.
    pub why: Why,
    /// Whose settings were not restored.
    pub not_restored: Vec<Remark>,
}

/// Why a study is given up.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Why {
    /// The rig is broken.
    #[error(transparent)]
    Broken(#[from] Trouble),
    /// There is no sensor to measure.
    #[error("no sensor on this line can take part: {0}")]
    NoSensor(String),
    /// The user ends it.
    #[error("interrupted")]
    Interrupted,
}

/// How a study goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// The sensors are known, and so is how long it takes at most.
    Begins {
        /// How many sensors.
        sensors: usize,
        /// How often each converts at each resolution.
        repeats: u32,
        /// Longest time of the rig.
        at_most_us: u64,
    },
    /// The sensors are being measured at this.
    Measures(Option<Resolution>),
}

/// How a study is to be made.
pub struct MeasureOrder<'a> {
    /// The rig.
    pub rig: &'a Rig,
    /// How often each sensor converts at each resolution; as often as two minutes allow by default.
    pub repeats: Option<u32>,
    /// Raised when it is to end.
    pub stop: &'a Stop,
}

/// How long one repetition takes at most.
fn once_us(members: &[Member]) -> u64 {
    members
        .iter()
        .flat_map(|member| choices(member.part))
        .map(|resolution| u64::from(conversion_max_us(resolution)) + OVERHEAD_US)
        .sum()
}

/// Measures. Settings are written to scratchpads only, and restored however it ends. If it is stopped after the first resolution, what is
/// complete so far comes back.
///
/// # Errors
/// [`Abandoned`] if the rig is broken or the user ends it.
pub fn measure(
    bench: &mut dyn Bench,
    order: &MeasureOrder<'_>,
    listener: &mut dyn FnMut(Stage),
) -> Result<MeasuredSensors, Abandoned> {
    let abandoned = |why: Why| Abandoned { why, not_restored: Vec::new() };
    let ended = order.stop.clone();
    bench.end_when(Box::new(move || ended.is_raised()));
    let party = gather(bench, order.rig).map_err(|trouble| abandoned(trouble.into()))?;
    if party.members.is_empty() {
        let reasons: Vec<&str> = party.left_out.iter().map(|remark| remark.text.as_str()).collect();
        return Err(abandoned(Why::NoSensor(reasons.join("; "))));
    }
    let once_us = once_us(&party.members);
    let usual = (USUAL_US / once_us.max(1)).clamp(FEWEST, USUAL_MOST);
    let repeats = order.repeats.unwrap_or_else(|| u32::try_from(usual).expect("no more than USUAL_MOST"));
    listener(Stage::Begins { sensors: party.members.len(), repeats, at_most_us: once_us * u64::from(repeats) });
    let mut work = Work { bench, order, repeats, series: Vec::new(), bus: BusSamples::default() };
    let done = work.all(&party, listener);
    let Work { bench, series, bus, .. } = work;
    let changed = party.members.iter().filter(|member| member.part.has_resolution());
    let not_restored = restore(bench, changed);
    match done {
        Ok(()) => Ok(MeasuredSensors { party, repeats, series, bus, not_restored, complete: true }),
        // What is complete so far is worth a report.
        Err(Why::Interrupted) if !series.is_empty() => {
            Ok(MeasuredSensors { party, repeats, series, bus, not_restored, complete: false })
        }
        Err(why) => Err(Abandoned { why, not_restored }),
    }
}

struct Work<'a> {
    bench: &'a mut dyn Bench,
    order: &'a MeasureOrder<'a>,
    repeats: u32,
    series: Vec<Series>,
    bus: BusSamples,
}

impl Work<'_> {
    fn all(&mut self, party: &Party, listener: &mut dyn FnMut(Stage)) -> Result<(), Why> {
        let settings = Resolution::ALL.into_iter().map(Some).chain([None]);
        for resolution in settings {
            let takes_part = |member: &&(usize, &Member)| choices(member.1.part).contains(&resolution);
            let all: Vec<(usize, &Member)> = party.members.iter().enumerate().collect();
            let members: Vec<(usize, &Member)> = all.iter().filter(takes_part).copied().collect();
            if !members.is_empty() {
                listener(Stage::Measures(resolution));
                self.at(resolution, &members)?;
            }
        }
        for _ in 0..self.repeats {
            self.go_on()?;
            let answer = self.bus.power(self.bench);
            // One that fails is one sample less.
            let _ = self.sorted(answer)?;
        }
        Ok(())
    }

    fn go_on(&self) -> Result<(), Why> {
        if self.order.stop.is_raised() { Err(Why::Interrupted) } else { Ok(()) }
    }

    /// A failure that is not one of the whole line is one of this sensor.
    fn sorted<T>(&mut self, outcome: Result<T, Trouble>) -> Result<Result<T, Trouble>, Why> {
        match outcome {
            // A request that was ended from here is no failure.
            Err(_) if self.order.stop.is_raised() => Err(Why::Interrupted),
            Err(trouble) if is_of_line(self.bench, &trouble) => Err(trouble.into()),
            outcome => Ok(outcome),
        }
    }

    /// All sensors at one resolution. Rounds go over all sensors, so that each one rests between its conversions.
    fn at(&mut self, resolution: Option<Resolution>, members: &[(usize, &Member)]) -> Result<(), Why> {
        let mut series: Vec<Series> = members.iter().map(|(place, _)| Series::new(*place, resolution)).collect();
        let mut is_set = vec![true; members.len()];
        if resolution.is_some() {
            for (index, (_, member)) in members.iter().enumerate() {
                self.go_on()?;
                let written = self.bench.write(member.sensor.rom, Settings { resolution, ..member.held });
                if let Err(trouble) = self.sorted(written)? {
                    is_set[index] = false;
                    series[index].fail(&trouble);
                }
            }
        }
        for _ in 0..self.repeats {
            for (index, (_, member)) in members.iter().enumerate().filter(|(index, _)| is_set[*index]) {
                self.go_on()?;
                let once = self.once(member, resolution);
                match self.sorted(once)? {
                    Ok(once) => series[index].add(once),
                    Err(trouble) => series[index].fail(&trouble),
                }
            }
        }
        self.series.extend(series);
        Ok(())
    }

    /// One conversion of one sensor, and its reading.
    fn once(&mut self, member: &Member, resolution: Option<Resolution>) -> Result<Once, Trouble> {
        let rom = member.sensor.rom;
        let wait = match member.supply {
            Supply::Local => Wait::Poll,
            Supply::Parasite => Wait::StrongPullUp,
        };
        let converted = self.bench.convert(Target::One(rom), wait, conversion_max_us(resolution))?;
        let sample = self.bus.read(self.bench, rom, &converted.receipt)?;
        if sample.settings.resolution != resolution {
            return Err(Trouble::not_possible("keeping this sensor at its resolution: it has gone back to another"));
        }
        let is_doubtful = [Doubt::PowerOnValue, Doubt::OutOfRange].iter().any(|doubt| sample.doubts.contains(*doubt));
        Ok(Once { busy: converted.busy, sixteenths: (!is_doubtful).then_some(sample.sixteenths) })
    }
}

/// The result of one conversion.
struct Once {
    busy: Option<Busy>,
    /// The reading, if nothing speaks against it.
    sixteenths: Option<i16>,
}

impl Series {
    fn new(member: usize, resolution: Option<Resolution>) -> Self {
        Self { member, resolution, busy: Vec::new(), sixteenths: Vec::new(), doubtful: 0, failed: 0, failure: None }
    }

    fn add(&mut self, Once { busy, sixteenths }: Once) {
        self.busy.extend(busy);
        match sixteenths {
            Some(sixteenths) => self.sixteenths.push(sixteenths),
            None => self.doubtful += 1,
        }
    }

    fn fail(&mut self, trouble: &Trouble) {
        self.failed += 1;
        self.failure.get_or_insert_with(|| trouble.to_string());
    }
}
