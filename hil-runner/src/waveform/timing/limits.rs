//! The limits of each time on a line.
//!
//! Those of the master at standard speed are the ones that edges are judged by everywhere else. Those of the sensors are from the
//! same table. At overdrive speed they are those of the two parts whose tables were at hand.

use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::Family;

use super::{LineTime, signed};
use crate::judge::edges::{Bound, Limits, Parameter, Reach, Side};
use crate::record::units::exact_time;
use crate::waveform::decode::Speed;

/// A limit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Limit {
    /// In nanoseconds.
    pub ns: u64,
    /// Whether it is itself permitted.
    pub reach: Reach,
    /// Where it is printed.
    pub source: String,
}

impl Limit {
    /// What is asked: `>= 60 us`.
    #[must_use]
    pub fn asked(&self, side: Side) -> String {
        format!("{} {}", self.reach.sign(side), exact_time(signed(self.ns)))
    }
}

/// The limits of a time.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Window {
    /// At least this.
    pub least: Option<Limit>,
    /// At most this.
    pub most: Option<Limit>,
}

/// How the sensors of a line are powered, as far as they were asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Power {
    /// They were not asked.
    #[default]
    Unknown,
    /// All by their own pin.
    Local,
    /// At least one by the line.
    Parasite,
}

/// Who is on the line, as far as limits depend on it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Party {
    /// The families that were seen.
    pub families: Vec<Family>,
    /// How they are powered. Only on parasite power a reset may not be as long as one likes.
    pub power: Power,
    /// How many sensors were seen. Presence pulses of several make one that may be longer.
    pub sensors: usize,
    /// Whether a search found that it is only one.
    pub is_alone: bool,
}

const AC: &str = "DS18B20 datasheet (7/19), AC table";
const READ: &str = "DS18B20 datasheet (7/19), Read Time Slots and AC table";
const HOLD: &str =
    "DS18B20 datasheet (7/19), AC table, tRDV, and 45 us past it (datasheet of the DS2417, notes to the AC table)";
const SEVERAL: &str = "DS18B20 datasheet (7/19), AC table: tPDHIGH from 15 to 60 us and tPDLOW up to 240 us of several sensors (computed)";
const FAST_SLOTS: &str = "DS1996 datasheet, overdrive limits";
const FAST_RESET: &str = "DS28EC20 datasheet, overdrive limits";
const FAST_28EA00: &str = "DS28EA00 datasheet, electrical table, overdrive";

/// Presence pulses of several sensors together: the earliest may begin 15 us after the release, and the last to begin, at 60 us, end
/// after 300 us (computed from tPDHIGH and tPDLOW of the AC table).
pub const SEVERAL_PRESENCE_NS: u64 = 285_000;

/// The same at overdrive speed: 2 to 6 us, and 24 us (computed, DS28EC20 datasheet).
pub const SEVERAL_FAST_PRESENCE_NS: u64 = 28_000;

fn limit(ns: u64, source: &str) -> Option<Limit> {
    Some(Limit { ns, reach: Reach::Including, source: source.into() })
}

fn within(least_ns: u64, most_ns: u64, source: &str) -> Window {
    Window { least: limit(least_ns, source), most: limit(most_ns, source) }
}

fn at_least(ns: u64, source: &str) -> Window {
    Window { least: limit(ns, source), most: None }
}

/// The window of a time, for those who are on the line.
#[must_use]
pub fn window(speed: Speed, time: LineTime, party: &Party) -> Window {
    match speed {
        Speed::Standard => standard(time, party),
        Speed::Overdrive => overdrive(time, party),
    }
}

fn standard(time: LineTime, party: &Party) -> Window {
    let limits = Limits::for_families(&party.families);
    let masters = |parameter| {
        let window = limits.of(parameter);
        Window { least: window.least.as_ref().map(taken), most: window.most.as_ref().map(taken) }
    };
    match time {
        // The 960 us are those of note 13, for parasite power; other parts have limits of their own.
        LineTime::ResetLow if party.power == Power::Local && !party.families.contains(&Family::Ds28ea00) => {
            Window { most: None, ..masters(Parameter::ResetLow) }
        }
        LineTime::ResetLow => masters(Parameter::ResetLow),
        LineTime::ResetHigh => masters(Parameter::ResetHigh),
        LineTime::WriteZeroLow => masters(Parameter::WriteZeroLow),
        LineTime::WriteOneLow => masters(Parameter::WriteOneLow),
        LineTime::ReadLow => Window {
            least: masters(Parameter::ReadStart).least,
            // The line has to be up again when the master looks.
            most: Some(Limit { ns: 15_000, reach: Reach::Excluding, source: READ.into() }),
        },
        LineTime::Slot => masters(Parameter::Slot),
        LineTime::Recovery => masters(Parameter::Recovery),
        LineTime::PresenceDelay => within(15_000, 60_000, AC),
        LineTime::PresenceLow if party.sensors > 1 => {
            Window { least: limit(60_000, AC), most: limit(SEVERAL_PRESENCE_NS, SEVERAL) }
        }
        LineTime::PresenceLow => within(60_000, 240_000, AC),
        LineTime::ReadZeroLow => within(15_000, 60_000, HOLD),
    }
}

fn taken(bound: &Bound) -> Limit {
    Limit { ns: u64::try_from(bound.ns).unwrap_or(0), reach: bound.reach, source: bound.source.clone() }
}

fn overdrive(time: LineTime, party: &Party) -> Window {
    let has_28ea00 = party.families.contains(&Family::Ds28ea00);
    match time {
        LineTime::ResetLow => within(48_000, 80_000, FAST_RESET),
        // tPDH and tPDL at most, together with the recovery before a slot; no table at hand prints tRSTH.
        LineTime::ResetHigh => at_least(48_000, "as tRSTL at least, DS28EC20 datasheet (assumed: tRSTH was not seen)"),
        LineTime::PresenceDelay => within(2_000, 6_000, FAST_RESET),
        LineTime::PresenceLow if party.sensors > 1 => Window {
            least: limit(8_000, FAST_RESET),
            most: limit(
                SEVERAL_FAST_PRESENCE_NS,
                "DS28EC20 datasheet, overdrive limits, of several sensors (computed)",
            ),
        },
        LineTime::PresenceLow => within(8_000, 24_000, FAST_RESET),
        LineTime::WriteZeroLow => within(6_000, 16_000, FAST_SLOTS),
        LineTime::WriteOneLow => within(1_000, 2_000, FAST_SLOTS),
        LineTime::ReadLow => within(1_000, 2_000, FAST_SLOTS),
        LineTime::ReadZeroLow => within(2_000, 6_000, "DS1996 datasheet, overdrive limits, tRDV and 4 us past it"),
        LineTime::Slot if has_28ea00 => at_least(8_000, FAST_28EA00),
        LineTime::Slot => at_least(7_000, "DS1996 datasheet, overdrive limits, tSLOT and tREC added (computed)"),
        LineTime::Recovery if has_28ea00 => at_least(2_000, FAST_28EA00),
        LineTime::Recovery => at_least(1_000, FAST_SLOTS),
    }
}
