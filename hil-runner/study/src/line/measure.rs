//! Measures a line: searches, power modes, scratchpads. Nothing is written to any sensor.

use std::collections::BTreeMap;

use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::thermometer::Family;

use super::cable::{Estimates, KnownCircuit, Threshold};
use super::error_rate::ErrorRate;
use super::seen::{LineSeen, Pulse, SensorSeen};
use slotwise_bench::Bench;
use slotwise_limits::Parameter;
use slotwise_record::subject;
use slotwise_rig::Rig;
use slotwise_rig::reply::LineRecord;
use slotwise_rig::reply::Trouble;
use slotwise_run::is_lost;
use slotwise_run::survey::checked;
use slotwise_terms::Stop;

/// How a line is to be measured.
pub struct LineOrder<'a> {
    /// The rig.
    pub rig: &'a Rig,
    /// How often it is searched.
    pub searches: u32,
    /// How often the scratchpad of each sensor is read.
    pub reads: u32,
    /// What is known of the master's threshold.
    pub threshold: Threshold,
    /// The stated supply.
    pub supply_v: Option<f64>,
    /// The stated pull-up.
    pub pull_up_ohm: Option<f64>,
    /// What a metre of cable has.
    pub pf_per_m: f64,
    /// Raised when it is to end.
    pub stop: &'a Stop,
}

/// The stage of the measurement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineStage {
    /// The line is being searched so often.
    Searches(u32),
    /// So many sensors are being read so often each.
    Reads {
        /// How many.
        sensors: usize,
        /// How often.
        reads: u32,
    },
}

/// Why it was given up.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LineStop {
    /// The rig is broken.
    #[error(transparent)]
    Broken(#[from] Trouble),
    /// The user ends it.
    #[error("interrupted")]
    Interrupted,
}

/// Measures the line. If it is stopped after the first search, what was seen so far comes back.
///
/// # Errors
/// [`LineStop`] if the rig is broken or the user ends it.
pub fn measure_line(
    bench: &mut dyn Bench,
    order: &LineOrder<'_>,
    listener: &mut dyn FnMut(LineStage),
) -> Result<LineSeen, LineStop> {
    let ended = order.stop.clone();
    bench.end_when(Box::new(move || ended.is_raised()));
    let mut measurement = LineMeasurement { order, line: LineRecord::default(), sensors: BTreeMap::new(), searches: 0 };
    // What was seen before this is of earlier requests. Edges can be taken only once, at the end.
    let _ = bench.take_line();
    listener(LineStage::Searches(order.searches));
    let lost = measurement.search(bench)?;
    if measurement.searches == 0 {
        measurement.go_on()?;
    }
    measurement.power(bench)?;
    listener(LineStage::Reads { sensors: measurement.found().len(), reads: order.reads });
    measurement.read(bench)?;
    let read_sample_ns = bench.take_edges().and_then(|edges| {
        let sample = edges.parameters.into_iter().find(|one| one.parameter == Parameter::ReadSample)?.seen?;
        Some(Pulse { count: sample.count, least_ns: sample.least_ns, most_ns: sample.most_ns })
    });
    Ok(measurement.seen(lost, read_sample_ns))
}

struct LineMeasurement<'a> {
    order: &'a LineOrder<'a>,
    /// All that was seen of the line between requests.
    line: LineRecord,
    sensors: BTreeMap<RomCode, SensorSeen>,
    /// Searches so far.
    searches: u32,
}

impl LineMeasurement<'_> {
    fn go_on(&self) -> Result<(), LineStop> {
        if self.order.stop.is_raised() { Err(LineStop::Interrupted) } else { Ok(()) }
    }

    /// Keeps what the bridge saw of the line during the last request.
    fn keep(&mut self, bench: &mut dyn Bench) {
        if let Some(line) = bench.take_line() {
            self.line.merge(&line);
        }
    }

    fn entry(&mut self, rom: RomCode) -> &mut SensorSeen {
        let inventory = &self.order.rig.inventory;
        self.sensors.entry(rom).or_insert_with(|| SensorSeen {
            sensor: subject(inventory, rom),
            part: Family::of(rom).map(|part| part.part().to_owned()),
            seen: 0,
            power: None,
            reads: 0,
            errors: 0,
            failure: None,
        })
    }

    /// How many searches ended early, and why the first of them did.
    fn search(&mut self, bench: &mut dyn Bench) -> Result<(u32, Option<String>), LineStop> {
        for sensor in &self.order.rig.inventory {
            self.entry(sensor.rom);
        }
        let (mut failed, mut failure) = (0, None);
        for _ in 0..self.order.searches {
            if self.searches > 0 && self.order.stop.is_raised() {
                break;
            }
            self.go_on()?;
            let found = bench.search(SearchScope::All);
            self.keep(bench);
            if found.trouble.is_some() && self.order.stop.is_raised() {
                break;
            }
            self.searches += 1;
            let found = checked(bench, found)?;
            for rom in found.roms {
                self.entry(rom).seen += 1;
            }
            if let Some(trouble) = found.trouble {
                failed += 1;
                failure.get_or_insert_with(|| trouble.to_string());
            }
        }
        Ok((failed, failure))
    }

    /// Those that were found at least once and are thermometers: the effect of a function command on anything else is not known.
    fn found(&self) -> Vec<RomCode> {
        let found = self.sensors.iter().filter(|(_, sensor)| sensor.seen > 0).map(|(rom, _)| *rom);
        found.filter(|rom| Family::of(*rom).is_some()).collect()
    }

    fn power(&mut self, bench: &mut dyn Bench) -> Result<(), LineStop> {
        for rom in self.found() {
            if self.order.stop.is_raised() {
                break;
            }
            let supply = bench.supply(Target::One(rom));
            self.keep(bench);
            if supply.is_err() && self.order.stop.is_raised() {
                break;
            }
            let entry = self.entry(rom);
            match supply {
                Ok(supply) => entry.power = Some(supply),
                Err(trouble) if is_lost(bench, &trouble) => return Err(trouble.into()),
                Err(trouble) => entry.failure = Some(trouble.to_string()),
            }
        }
        Ok(())
    }

    /// Rounds go over all sensors, so that a disturbance of the line is not that of one.
    fn read(&mut self, bench: &mut dyn Bench) -> Result<(), LineStop> {
        let found = self.found();
        for _ in 0..self.order.reads {
            for rom in &found {
                // What was seen so far is reported.
                if self.order.stop.is_raised() {
                    return Ok(());
                }
                let read = bench.scratchpad(*rom);
                self.keep(bench);
                // A request that was ended from here is no error of the line.
                if read.is_err() && self.order.stop.is_raised() {
                    return Ok(());
                }
                let entry = self.entry(*rom);
                entry.reads += 1;
                if let Err(trouble) = read {
                    entry.errors += 1;
                    entry.failure.get_or_insert_with(|| trouble.to_string());
                    if is_lost(bench, &trouble) {
                        return Err(trouble.into());
                    }
                }
            }
        }
        Ok(())
    }

    fn seen(self, (searches_failed, search_failure): (u32, Option<String>), read_sample_ns: Option<Pulse>) -> LineSeen {
        let Self { order, line, sensors, searches } = self;
        let inventory = &order.rig.inventory;
        let place = |rom: RomCode| inventory.iter().position(|sensor| sensor.rom == rom).unwrap_or(usize::MAX);
        let mut sensors: Vec<SensorSeen> = sensors.into_values().collect();
        sensors.sort_by_key(|sensor| place(sensor.sensor.rom));
        let sum = |of: fn(&SensorSeen) -> u32| sensors.iter().map(of).sum::<u32>();
        let (reads, errors) = (sum(|sensor| sensor.reads), sum(|sensor| sensor.errors));
        let most_reads = sensors.iter().map(|sensor| sensor.reads).max();
        let reads_each = most_reads.filter(|_| order.stop.is_raised()).unwrap_or(order.reads);
        let known = KnownCircuit {
            threshold: order.threshold,
            supply_v: order.supply_v,
            pull_up_ohm: order.pull_up_ohm,
            sensors: u32::try_from(sensors.iter().filter(|sensor| sensor.seen > 0).count()).unwrap_or(u32::MAX),
            pf_per_m: order.pf_per_m,
        };
        LineSeen {
            searches,
            searches_failed,
            search_failure,
            reads_each,
            resets: line.resets,
            rise_ns: line.rise_ns,
            presence_delay_ns: line.presence_delay_ns,
            presence_width_ns: line.presence_width_ns,
            grain_ns: line.grain_ns,
            read_sample_ns,
            estimates: line.rise_ns.and_then(|rise_ns| Estimates::of(rise_ns, line.grain_ns, known)),
            error_rate: ErrorRate::of(errors, reads),
            sensors,
        }
    }
}
