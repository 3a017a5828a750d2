//! Which resolution meets the demands, or which demand to relax, with the reason in numbers.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::{Resolution, Supply};

use super::bus_time::BusTime;
use super::conversion::ConversionRow;
use super::datasheet::{conversion_max_us, step_celsius};
use super::model::Wishes;
use super::rounds::round_us;

/// Demands are decimals and times are measured: nothing smaller than this is a difference (chosen).
const NOTHING_CELSIUS: f64 = 1e-9;

/// What is advised.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Advice {
    /// How the line is powered, which decides whether the end of a conversion can be seen.
    #[cfg_attr(feature = "schema", schemars(with = "slotwise_terms::notation::SupplyForm"))]
    pub supply: Supply,
    /// How each resolution meets the demands.
    pub candidates: Vec<Candidate>,
    /// What follows.
    pub verdict: AdviceVerdict,
}

/// How a resolution meets the demands.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Candidate {
    /// The resolution.
    pub resolution_bits: u8,
    /// Its step.
    pub step_celsius: f64,
    /// Whether it is fine enough.
    pub steps: Met,
    /// Time of a round with the datasheet's longest conversion.
    pub datasheet_round_s: f64,
    /// Time of a round with the slowest conversion measured, polled. None: no conversion could be polled, or a line on parasite power.
    pub measured_round_s: Option<f64>,
    /// Whether it is quick enough.
    pub every: Met,
}

/// How a demand is met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Met {
    /// It is not.
    Not,
    /// With the conversions measured, if they are polled; a sensor as slow as the datasheet allows would be too late.
    AsMeasured,
    /// It is, with any sensor that keeps to the datasheet; or nothing was demanded.
    Always,
}

/// What follows from the demands.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum AdviceVerdict {
    /// This one.
    Use {
        /// The resolution.
        resolution_bits: u8,
        /// How the time is met.
        every: Met,
    },
    /// None: one of these must be relaxed.
    None {
        /// The ways, each enough by itself.
        relax: Vec<Relax>,
    },
}

/// A demand to relax.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Relax {
    /// Longer between readings, at this resolution.
    Every {
        /// At least so long.
        at_least_s: f64,
        /// The resolution.
        resolution_bits: u8,
    },
    /// Coarser steps, at this resolution.
    Steps {
        /// At least so coarse.
        at_least_celsius: f64,
        /// The resolution.
        resolution_bits: u8,
    },
    /// Fewer sensors on one line, at this resolution.
    Sensors {
        /// At most so many.
        at_most: u32,
        /// The resolution.
        resolution_bits: u8,
    },
}

/// What is advised for the sensors that have a resolution to choose. `None` if nothing was demanded.
///
/// The coarsest that is fine enough is the one to use: it is the quickest and takes the least charge. Without a demand for steps it
/// is the finest that is quick enough.
#[must_use]
pub fn advise(wishes: &Wishes, supply: Supply, conversions: &[ConversionRow], bus: &BusTime) -> Option<Advice> {
    if wishes.steps_celsius.is_none() && wishes.every_s.is_none() {
        return None;
    }
    let candidates: Vec<Candidate> =
        Resolution::ALL.map(|resolution| candidate(wishes, supply, conversions, bus, resolution)).into();
    let fits = |candidate: &&Candidate| candidate.steps > Met::Not && candidate.every > Met::Not;
    let mut fitting = candidates.iter().filter(fits);
    let chosen = match wishes.steps_celsius {
        Some(_) => fitting.next(),
        None => fitting.next_back(),
    };
    let verdict = match chosen {
        Some(chosen) => AdviceVerdict::Use { resolution_bits: chosen.resolution_bits, every: chosen.every },
        None => AdviceVerdict::None { relax: relax(wishes, &candidates, bus) },
    };
    Some(Advice { supply, candidates, verdict })
}

fn candidate(
    wishes: &Wishes,
    supply: Supply,
    conversions: &[ConversionRow],
    bus: &BusTime,
    resolution: Resolution,
) -> Candidate {
    let step = step_celsius(Some(resolution));
    let is_fine = wishes.steps_celsius.is_none_or(|wanted| step <= wanted + NOTHING_CELSIUS);
    let datasheet_s = round_us(bus, conversion_max_us(Some(resolution)), wishes.sensors) / 1e6;
    let row = conversions.iter().find(|row| row.resolution_bits == Some(resolution.bits()));
    let slowest = row.and_then(|row| row.seen_on(supply));
    let measured_s = slowest.map(|measured| round_us(bus, measured.most_us, wishes.sensors) / 1e6);
    let in_time = |round_s: f64| wishes.every_s.is_none_or(|every_s| round_s <= every_s);
    Candidate {
        resolution_bits: resolution.bits(),
        step_celsius: step,
        steps: if is_fine { Met::Always } else { Met::Not },
        datasheet_round_s: datasheet_s,
        measured_round_s: measured_s,
        every: match (in_time(datasheet_s), measured_s.map(in_time)) {
            // A sensor may be slower than the datasheet allows.
            (true, None | Some(true)) => Met::Always,
            (false, Some(true)) => Met::AsMeasured,
            (_, Some(false)) | (false, None) => Met::Not,
        },
    }
}

/// Each way that is enough by itself, by the figures that hold for any sensor.
fn relax(wishes: &Wishes, candidates: &[Candidate], bus: &BusTime) -> Vec<Relax> {
    let mut ways = Vec::new();
    let fine = candidates.iter().find(|candidate| candidate.steps > Met::Not);
    let quick = candidates.iter().rev().find(|candidate| candidate.every > Met::Not);
    if let Some(fine) = fine {
        let resolution_bits = fine.resolution_bits;
        let round_s = fine.measured_round_s.map_or(fine.datasheet_round_s, |seen_s| seen_s.max(fine.datasheet_round_s));
        ways.push(Relax::Every { at_least_s: round_s, resolution_bits });
        let conversion_s = round_s - f64::from(wishes.sensors) * f64::from(bus.read.median_us) / 1e6;
        let left_s = wishes.every_s.map_or(0.0, |every_s| every_s - conversion_s);
        let at_most = (left_s * 1e6 / f64::from(bus.read.median_us)).floor();
        if at_most >= 1.0 {
            // As a float it is between 1 and the wished number of sensors, which is an u32.
            ways.push(Relax::Sensors { at_most: at_most as u32, resolution_bits });
        }
    }
    if let Some(quick) = quick {
        ways.push(Relax::Steps { at_least_celsius: quick.step_celsius, resolution_bits: quick.resolution_bits });
    } else if fine.is_none() {
        // Neither is met by any: both must give way.
        if let (Some(finest), Some(coarsest)) = (candidates.last(), candidates.first()) {
            ways.push(Relax::Steps { at_least_celsius: finest.step_celsius, resolution_bits: finest.resolution_bits });
            ways.push(Relax::Every {
                at_least_s: coarsest.datasheet_round_s,
                resolution_bits: coarsest.resolution_bits,
            });
        }
    }
    ways
}
