//! The margins of a measured line: those that were seen, and those that follow from what is stated and seen.

use slotwise::thermometer::{Family, Supply};

use super::figures::{AC, DC, INPUT_PF, PRESENCE_DELAY_US, PRESENCE_WIDTH_US, READ_VALID_US, RESET_HIGH_US};
use super::filed::recovery_us;
use super::margin::{LineParameter, Margin, MarginBasis};
use super::margins::{applies, computed};
use super::model::StatedNumbers;
use super::numbers::Numbers;
use super::seen::{LineSeen, SensorSeen};
use super::slots::SlotTiming;
use slotwise_rig::Rig;
use slotwise_terms::units::three;

/// A line in numbers, and which of them are known. What is not known is 0.
pub(super) struct KnownNumbers {
    numbers: Numbers,
    has_supply: bool,
    has_pull_up: bool,
    has_capacitance: bool,
}

impl KnownNumbers {
    /// What a line is by its measured RC product, and by what is stated.
    pub(super) fn of(rig: &Rig, seen: &LineSeen, stated: &StatedNumbers) -> Self {
        let picofarad = seen.estimates.as_ref().and_then(|estimates| Some(estimates.picofarad.as_ref()?.best));
        let there = || seen.sensors.iter().filter(|sensor| sensor.seen > 0);
        let number = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let sensors = number(there().count());
        let supply_v = stated.supply_v.unwrap_or_default();
        Self {
            numbers: Numbers {
                supply_v,
                pull_up_ohm: stated.pull_up_ohm.unwrap_or_default(),
                // Sensors may have less than is taken off for them here.
                cable_pf: (picofarad.unwrap_or_default() - INPUT_PF * f64::from(sensors)).max(0.0),
                pf_per_m: stated.pf_per_m,
                sensors,
                parasites: number(there().filter(is_parasite).count()),
                strong_pull_up: stated.strong_pull_up,
                threshold_v: supply_v * stated.threshold.share(),
                timing: SlotTiming::of_rig(rig),
                recovery_us: recovery_us(there().filter_map(|sensor| Family::of(sensor.sensor.rom))),
            },
            has_supply: stated.supply_v.is_some(),
            has_pull_up: stated.pull_up_ohm.is_some(),
            has_capacitance: picofarad.is_some(),
        }
    }

    /// All of it. None: something is not known.
    pub(super) fn all(&self) -> Option<Numbers> {
        self.levels().filter(|_| self.has_capacitance).copied()
    }

    /// What decides over levels and currents; times do not follow from it. None: not even that is known.
    pub(super) fn levels(&self) -> Option<&Numbers> {
        (self.has_supply && self.has_pull_up).then_some(&self.numbers)
    }

    /// How many sensors on parasite power there are.
    pub(super) const fn parasites(&self) -> u32 {
        self.numbers.parasites
    }

    /// The margins that follow.
    pub(super) fn computed(&self) -> Vec<Margin> {
        let mut margins: Vec<Margin> =
            computed(&self.numbers).into_iter().filter(|margin| self.decides(margin.parameter)).collect();
        if !self.has_capacitance {
            let parasite = margins.iter_mut().filter(|margin| margin.parameter == LineParameter::ParasitePower);
            parasite.for_each(|margin| margin.source = format!("{DC}, active current and VPU; even without a cable"));
        }
        margins
    }

    /// Whether the length of the cable, which is not known, decides over what parasite power carries.
    pub(super) fn cable_decides(&self) -> bool {
        let carries = |numbers: &Numbers| {
            applies(LineParameter::ParasitePower, numbers) && numbers.keeps(LineParameter::ParasitePower)
        };
        !self.has_capacitance && self.levels().is_some_and(carries)
    }

    fn decides(&self, parameter: LineParameter) -> bool {
        match parameter {
            LineParameter::Supply => self.has_supply,
            LineParameter::IdleLevel | LineParameter::LowLevel => self.levels().is_some(),
            // What is not carried without a cable is not carried with one.
            LineParameter::ParasitePower => self.levels().is_some() && !self.cable_decides(),
            LineParameter::ReadValid => true,
            LineParameter::RiseCheck
            | LineParameter::ReadSample
            | LineParameter::WriteOne
            | LineParameter::Recovery
            | LineParameter::Presence
            | LineParameter::ResetHigh => self.all().is_some(),
            LineParameter::PresenceDelay | LineParameter::PresenceWidth => false,
        }
    }
}

fn is_parasite(sensor: &&SensorSeen) -> bool {
    sensor.seen > 0 && sensor.power == Some(Supply::Parasite)
}

/// Nanoseconds that were seen, in microseconds.
fn seen_us(ns: u32) -> f64 {
    f64::from(ns) / 1e3
}

/// The margins that need nothing but what was seen, and the times of the bus master.
pub(super) fn measured(timing: SlotTiming, seen: &LineSeen) -> Vec<Margin> {
    let times = timing.times();
    let grain_us = seen_us(seen.grain_ns);
    let margin = |parameter: LineParameter, basis, (margin, grain): (f64, f64), formula: String, source: &str| {
        let within = if grain > 0.0 { format!(", to within {} us", three(grain)) } else { String::new() };
        let formula = format!("{formula} = {} us{within}", three(margin));
        Margin { parameter, basis, margin: Some(margin), unit: parameter.unit(), grain, formula, source: source.into() }
    };
    let mut margins = Vec::new();
    if let Some(rise_ns) = seen.rise_ns {
        let rise_us = seen_us(rise_ns.most);
        margins.extend(times.rise_check_us.map(|check_us| {
            margin(
                LineParameter::RiseCheck,
                MarginBasis::Measured,
                (check_us - rise_us, grain_us),
                format!("{} us - {} us seen at most", three(check_us), three(rise_us)),
                &format!("{}; a slower line it refuses", timing.source()),
            )
        }));
        let (sample_us, low_us) = (times.sample_us, times.start_low_us);
        margins.push(margin(
            LineParameter::ReadSample,
            MarginBasis::Measured,
            (sample_us - low_us - rise_us, grain_us),
            format!("{} us - {} us - {} us seen at most", three(sample_us), three(low_us), three(rise_us)),
            &format!("{}; the rise as after a reset", timing.source()),
        ));
        let next_slot_us = times.next_slot_us;
        margins.push(margin(
            LineParameter::ResetHigh,
            MarginBasis::Measured,
            (next_slot_us - rise_us - RESET_HIGH_US, grain_us),
            format!("{} us - {} us seen at most - {} us", three(next_slot_us), three(rise_us), three(RESET_HIGH_US)),
            &format!("{}; {AC}, tRSTH, from the rise on", timing.source()),
        ));
    }
    margins.push(match seen.read_sample_ns {
        Some(sample) => {
            let sample_us = sample.most_ns as f64 / 1e3;
            let formula = format!("{} us - {} us seen at most", three(READ_VALID_US), three(sample_us));
            let source = format!("{AC}, tRDV");
            margin(LineParameter::ReadValid, MarginBasis::Measured, (READ_VALID_US - sample_us, 0.0), formula, &source)
        }
        None => {
            let sample_us = times.sample_us;
            let formula = format!("{} us - {} us", three(READ_VALID_US), three(sample_us));
            let source = format!("{}; {AC}, tRDV", timing.source());
            margin(LineParameter::ReadValid, MarginBasis::Computed, (READ_VALID_US - sample_us, 0.0), formula, &source)
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
        margins.push(margin(parameter, MarginBasis::Measured, (below.min(above), grain_us), formula, &source));
    }
    margins
}
