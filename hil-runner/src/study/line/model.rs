//! All that is known of a line, measured or planned, as data.

use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::{Family, Supply};

use super::advice::LineAdvice;
use super::cable::Threshold;
use super::figures::{AC, INPUT_PF, PRESENCE_DELAY_US, PRESENCE_WIDTH_US, READ_VALID_US};
use super::margin::{Basis, LineParameter, Margin};
use super::margins::{computed, us};
use super::numbers::{Numbers, driver_timing, recovery_us};
use super::seen::LineSeen;
use crate::record::units::{percent, three};
use crate::record::{BridgeRecord, Driver, Tool};
use crate::rig::Rig;

/// Version of this form. It changes whenever a reader of the old form would misread the new one.
pub const LINE_STUDY_VERSION: u32 = 1;

/// A line, measured on a rig or planned from numbers alone.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LineStudy {
    /// Version of this form. A reader must know it.
    pub schema_version: u32,
    /// Who made it.
    pub tool: Tool,
    /// Where it was measured. None: it is a plan.
    pub place: Option<LinePlace>,
    /// What was seen. None: it is a plan.
    pub seen: Option<LineSeen>,
    /// The numbers that margins and advice are computed from. None: supply or pull-up are not known, or no rise was seen.
    pub numbers: Option<Numbers>,
    /// How far the line is from each limit.
    pub margins: Vec<Margin>,
    /// What is advised. None without numbers.
    pub advice: Option<LineAdvice>,
    /// What is not known, and why.
    pub not_known: Vec<NotKnown>,
    /// What is wrong. Nothing: the line is sound, as far as it is known.
    pub unsound: Vec<String>,
}

/// Where a line was measured.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LinePlace {
    /// Name of the rig.
    pub rig: String,
    /// Seed of all randomness.
    pub seed: u64,
    /// The driver that spoke to the sensors.
    pub driver: Driver,
    /// The bridge it ran on.
    pub bridge: BridgeRecord,
}

/// Something that is not known.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct NotKnown {
    /// What.
    pub what: String,
    /// Why.
    pub why: String,
}

/// What somebody says of a line that no measurement tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Told {
    /// The supply.
    pub supply_v: Option<f64>,
    /// The pull-up.
    pub pull_up_ohm: Option<f64>,
    /// The strong pull-up.
    pub strong_pull_up: StrongPullUp,
    /// The master's threshold.
    pub threshold: Threshold,
    /// What a metre of cable has.
    pub pf_per_m: f64,
    /// The error rate that is still good, in millionths.
    pub error_limit_ppm: u32,
}

/// What is known of the switch that ties the line to the supply while sensors on parasite power work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StrongPullUp {
    /// There is none.
    None,
    /// There is one of so many ohms.
    Ohm(f64),
    /// There is one, and nobody says of how many ohms.
    Unsaid,
}

impl LineStudy {
    /// A plan.
    #[must_use]
    pub fn of_plan(numbers: Numbers) -> Self {
        Self::new(None, None, Some(numbers), computed(&numbers))
    }

    /// What follows from what was seen.
    #[must_use]
    pub fn of_line(place: LinePlace, rig: &Rig, seen: LineSeen, told: &Told) -> Self {
        let numbers = numbers(rig, &seen, told);
        let mut margins = measured(rig, &seen);
        // What was measured is not computed once more.
        let is_measured = |parameter| margins.iter().any(|margin| margin.parameter == parameter);
        let is_told =
            |parameter| parameter != LineParameter::ParasitePower || told.strong_pull_up != StrongPullUp::Unsaid;
        let more = numbers.as_ref().map_or_else(Vec::new, computed).into_iter();
        let more: Vec<Margin> = more.filter(|new| !is_measured(new.parameter) && is_told(new.parameter)).collect();
        margins.extend(more);
        let not_known = not_known(&seen, told);
        let unsound = unsound(&seen, told);
        let study = Self::new(Some(place), Some(seen), numbers, margins);
        Self { not_known, unsound: unsound.into_iter().chain(study.unsound).collect(), ..study }
    }

    fn new(place: Option<LinePlace>, seen: Option<LineSeen>, numbers: Option<Numbers>, margins: Vec<Margin>) -> Self {
        Self {
            schema_version: LINE_STUDY_VERSION,
            tool: Tool::this(),
            place,
            seen,
            advice: numbers.as_ref().map(LineAdvice::of),
            numbers,
            unsound: margins.iter().filter(|margin| !margin.is_kept()).map(beyond).collect(),
            margins,
            not_known: Vec::new(),
        }
    }
}

fn beyond(margin: &Margin) -> String {
    let words = margin.parameter.words();
    match margin.margin {
        Some(number) => format!("{words}: {} {} beyond its limit", three(-number), margin.unit.symbol()),
        None => format!("{words}: the line never gets there"),
    }
}

/// What a line is by its measured RC product, where supply and pull-up are told.
fn numbers(rig: &Rig, seen: &LineSeen, told: &Told) -> Option<Numbers> {
    let picofarad = seen.estimates.as_ref()?.picofarad.as_ref()?.best;
    let supply_v = told.supply_v?;
    let there = || seen.sensors.iter().filter(|sensor| sensor.seen > 0);
    let sensors = u32::try_from(there().count()).unwrap_or(u32::MAX);
    let is_parasite = there().any(|sensor| sensor.power == Some(Supply::Parasite));
    Some(Numbers {
        supply_v,
        pull_up_ohm: told.pull_up_ohm?,
        cable_pf: picofarad - INPUT_PF * f64::from(sensors),
        pf_per_m: told.pf_per_m,
        sensors,
        power: if is_parasite { Supply::Parasite } else { Supply::Local },
        strong_pull_up_ohm: match told.strong_pull_up {
            StrongPullUp::Ohm(ohm) => Some(ohm),
            StrongPullUp::None | StrongPullUp::Unsaid => None,
        },
        threshold_v: supply_v * told.threshold.share(),
        timing: rig.timing,
        recovery_us: recovery_us(there().filter_map(|sensor| Family::of(sensor.sensor.rom))),
    })
}

/// Nanoseconds that were seen, in microseconds.
fn seen_us(ns: u32) -> f64 {
    f64::from(ns) / 1e3
}

/// The margins that need nothing but what was seen, and the driver's timing set.
fn measured(rig: &Rig, seen: &LineSeen) -> Vec<Margin> {
    let timing = driver_timing(rig.timing);
    let grain_us = seen_us(seen.grain_ns);
    let margin = |parameter: LineParameter, basis, (margin, grain): (f64, f64), formula: String, source: &str| {
        let within = if grain > 0.0 { format!(", to within {} us", three(grain)) } else { String::new() };
        let formula = format!("{formula} = {} us{within}", three(margin));
        Margin { parameter, basis, margin: Some(margin), unit: parameter.unit(), grain, formula, source: source.into() }
    };
    let mut margins = Vec::new();
    if let Some(rise_ns) = seen.rise_ns {
        let rise_us = seen_us(rise_ns.most);
        margins.push(margin(
            LineParameter::RiseCheck,
            Basis::Measured,
            (us(timing.rise_check_ns) - rise_us, grain_us),
            format!("{} us - {} us seen at most", three(us(timing.rise_check_ns)), three(rise_us)),
            "the driver's timing set; a slower line it refuses",
        ));
        let (sample_us, low_us) = (us(timing.sample_ns), us(timing.start_low_ns));
        margins.push(margin(
            LineParameter::ReadSample,
            Basis::Measured,
            (sample_us - low_us - rise_us, grain_us),
            format!("{} us - {} us - {} us seen at most", three(sample_us), three(low_us), three(rise_us)),
            "the driver's timing set; the rise as after a reset",
        ));
    }
    margins.push(match seen.read_sample_ns {
        Some(sample) => {
            let sample_us = sample.most_ns as f64 / 1e3;
            let formula = format!("{} us - {} us seen at most", three(READ_VALID_US), three(sample_us));
            let source = format!("{AC}, tRDV");
            margin(LineParameter::ReadValid, Basis::Measured, (READ_VALID_US - sample_us, 0.0), formula, &source)
        }
        None => {
            let sample_us = us(timing.sample_ns);
            let formula = format!("{} us - {} us", three(READ_VALID_US), three(sample_us));
            let source = format!("the driver's timing set; {AC}, tRDV");
            margin(LineParameter::ReadValid, Basis::Computed, (READ_VALID_US - sample_us, 0.0), formula, &source)
        }
    });
    let sensors = seen.sensors.iter().filter(|sensor| sensor.seen > 0).count();
    // Pulses of several sensors lie over each other: the earliest begins what the latest and longest ends.
    let together_us = if sensors > 1 { PRESENCE_DELAY_US.1 - PRESENCE_DELAY_US.0 } else { 0.0 };
    let width_us = (PRESENCE_WIDTH_US.0, PRESENCE_WIDTH_US.1 + together_us);
    let pulses = [
        (LineParameter::PresenceDelay, seen.presence_delay_ns, PRESENCE_DELAY_US),
        (LineParameter::PresenceWidth, seen.presence_width_ns, width_us),
    ];
    for (parameter, spread, limits_us) in pulses {
        let Some(spread) = spread else { continue };
        let (least_us, most_us) = (seen_us(spread.least), seen_us(spread.most));
        let (below, above) = (least_us - limits_us.0, limits_us.1 - most_us);
        let formula = if below < above {
            format!("{} us seen at least - {} us", three(least_us), three(limits_us.0))
        } else {
            format!("{} us - {} us seen at most", three(limits_us.1), three(most_us))
        };
        let source = format!("{AC}, {}", parameter.words());
        margins.push(margin(parameter, Basis::Measured, (below.min(above), grain_us), formula, &source));
    }
    margins
}

fn not_known(seen: &LineSeen, told: &Told) -> Vec<NotKnown> {
    let mut all = Vec::new();
    let mut add = |what: &str, why: &str| all.push(NotKnown { what: what.into(), why: why.into() });
    const BLIND: &str = "this rig does not see the line after a reset pulse";
    if seen.rise_ns.is_none() {
        add("rise time, RC product, capacitance, length of the cable, and all margins of a rise", BLIND);
    }
    if seen.presence_delay_ns.is_none() || seen.presence_width_ns.is_none() {
        add("tPDHIGH and tPDLOW", BLIND);
    }
    if seen.read_sample_ns.is_none() {
        let why = "this rig does not see the master's edges: the timing set's own figure is taken";
        add("the moment of the read sample", why);
    }
    let missing = [(told.supply_v, "--supply"), (told.pull_up_ohm, "--pull-up")];
    let missing: Vec<&str> = missing.iter().filter(|(told, _)| told.is_none()).map(|(_, option)| *option).collect();
    if !missing.is_empty() {
        let why = format!("no measurement of this rig tells it, and nobody says: {}", missing.join(", "));
        let what = if told.pull_up_ohm.is_none() {
            "capacitance, length of the cable, margins of levels and recovery, and advice"
        } else {
            "margins of levels and recovery, and advice"
        };
        add(what, &why);
    }
    if told.strong_pull_up == StrongPullUp::Unsaid {
        let why = "nobody says what resistance the strong pull-up has: --strong-pull-up";
        add("what parasite power carries with the strong pull-up", why);
    }
    for sensor in seen.sensors.iter().filter(|sensor| sensor.seen > 0) {
        let name = sensor.sensor.to_string();
        if let (None, Some(failure)) = (sensor.power, &sensor.failure) {
            add(&format!("how {name} is powered"), failure);
        }
        if sensor.part.is_none() {
            add(&format!("power and reads of {name}"), "it is of a family that is not decoded, and is left alone");
        }
    }
    all
}

/// What is wrong beside margins.
fn unsound(seen: &LineSeen, told: &Told) -> Vec<String> {
    let mut all = Vec::new();
    for sensor in seen.sensors.iter().filter(|sensor| sensor.seen < seen.searches) {
        all.push(format!("{}: found in {} of {} searches", sensor.sensor, sensor.seen, seen.searches));
    }
    if let (1.., Some(failure)) = (seen.searches_failed, &seen.search_failure) {
        all.push(format!("{} of {} searches ended early: {failure}", seen.searches_failed, seen.searches));
    }
    let limit = f64::from(told.error_limit_ppm) / 1e6;
    if let Some(rate) = seen.error_rate.filter(|rate| rate.least > limit) {
        all.push(format!(
            "reads fail at a rate of at least {} %, over the limit of {}",
            three(rate.least * 100.0),
            percent(told.error_limit_ppm.into())
        ));
    }
    all
}
