//! The limits of the times that sensors keep.

use slotwise::thermometer::Family;

use super::figures as f;
use super::{Basis, Limit, Reach, Window};

const HOLD: &str =
    "DS18B20 datasheet (7/19), AC table, tRDV, and 45 us past it (datasheet of the DS2417, notes to the AC table)";
const SEVERAL: &str = "DS18B20 datasheet (7/19), AC table: tPDHIGH from 15 to 60 us and tPDLOW up to 240 us of several sensors (computed)";

fn limit(ns: u64, source: &str) -> Limit {
    Limit {
        ns: ns.cast_signed(),
        reach: Reach::Including,
        part: Family::Ds18b20,
        basis: Basis::OwnDatasheet,
        source: source.into(),
    }
}

/// From one to another, both included.
#[must_use]
pub fn within(least_ns: u64, most_ns: u64, source: &str) -> Window {
    Window { least: Some(limit(least_ns, source)), most: Some(limit(most_ns, source)) }
}

/// So much or more.
#[must_use]
pub fn at_least(ns: u64, source: &str) -> Window {
    Window { least: Some(limit(ns, source)), most: None }
}

/// tPDHIGH.
#[must_use]
pub fn presence_delay() -> Window {
    within(f::PRESENCE_DELAY_LEAST_NS, f::PRESENCE_DELAY_MOST_NS, f::AC)
}

/// tPDLOW, of so many sensors as were seen.
#[must_use]
pub fn presence_low(sensors: usize) -> Window {
    let most = if sensors > 1 {
        limit(f::SEVERAL_PRESENCE_LOW_MOST_NS, SEVERAL)
    } else {
        limit(f::PRESENCE_LOW_MOST_NS, f::AC)
    };
    Window { least: Some(limit(f::PRESENCE_LOW_LEAST_NS, f::AC)), most: Some(most) }
}

/// How long a sensor holds a 0 that is read: until tRDV, and no longer than 45 us past it.
#[must_use]
pub fn read_zero_low() -> Window {
    within(f::READ_VALID_NS, f::READ_ZERO_LOW_MOST_NS, HOLD)
}

/// How long the line is low in a 1 that is read: longer than TINT, and up again before tRDV. `least`: that of TINT.
#[must_use]
pub fn read_low(least: Option<Limit>) -> Window {
    Window { least, most: Some(Limit { reach: Reach::Excluding, ..limit(f::READ_VALID_NS, f::READ) }) }
}
