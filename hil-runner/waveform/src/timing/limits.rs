//! The limits of each time on a line.
//!
//! At standard speed they are those that everything on the host is judged by. At overdrive speed they are those of the two parts whose tables were at hand.

use slotwise::thermometer::Family;

use super::LineTime;
use crate::decode::Speed;
use slotwise_limits as limits;
use slotwise_limits::{Limits, Parameter, Window, at_least, within};

/// How the sensors of a line are powered, as far as their power supply was read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Power {
    /// Their power supply was not read.
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

const FAST_SLOTS: &str = "DS1996 datasheet, overdrive limits";
const FAST_RESET: &str = "DS28EC20 datasheet, overdrive limits";
const FAST_28EA00: &str = "DS28EA00 datasheet, electrical table, overdrive";

/// Presence pulses of several sensors together at overdrive speed: 2 to 6 us, and 24 us (computed, DS28EC20 datasheet).
pub const SEVERAL_FAST_PRESENCE_NS: u64 = 28_000;

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
    let masters = |parameter| limits.of(parameter).clone();
    match time {
        // The 960 us are those of note 13, for parasite power; other parts have limits of their own.
        LineTime::ResetLow if party.power == Power::Local && !party.families.contains(&Family::Ds28ea00) => {
            Window { most: None, ..masters(Parameter::ResetLow) }
        }
        LineTime::ResetLow => masters(Parameter::ResetLow),
        LineTime::ResetHigh => masters(Parameter::ResetHigh),
        LineTime::WriteZeroLow => masters(Parameter::WriteZeroLow),
        LineTime::WriteOneLow => masters(Parameter::WriteOneLow),
        // The line has to be up again when the master samples.
        LineTime::ReadLow => limits::read_low(masters(Parameter::ReadStart).least),
        LineTime::Slot => masters(Parameter::Slot),
        LineTime::Recovery => masters(Parameter::Recovery),
        LineTime::PresenceDelay => limits::presence_delay(),
        LineTime::PresenceLow => limits::presence_low(party.sensors),
        LineTime::ReadZeroLow => limits::read_zero_low(),
    }
}

fn overdrive(time: LineTime, party: &Party) -> Window {
    let has_28ea00 = party.families.contains(&Family::Ds28ea00);
    match time {
        LineTime::ResetLow => within(48_000, 80_000, FAST_RESET),
        // tPDH and tPDL at most, together with the recovery before a slot; no table at hand prints tRSTH.
        LineTime::ResetHigh => at_least(48_000, "as tRSTL at least, DS28EC20 datasheet (assumed: tRSTH was not seen)"),
        LineTime::PresenceDelay => within(2_000, 6_000, FAST_RESET),
        LineTime::PresenceLow if party.sensors > 1 => Window {
            least: within(8_000, 24_000, FAST_RESET).least,
            most: within(
                8_000,
                SEVERAL_FAST_PRESENCE_NS,
                "DS28EC20 datasheet, overdrive limits, of several sensors (computed)",
            )
            .most,
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
