//! The limits of the times that a master keeps, the part that sets them, and where they are printed.

use std::cmp::Ordering;

use slotwise::thermometer::Family;

use super::figures as f;
use super::{Basis, Limit, Parameter, Reach, Window};

/// The limits of all times, for the sensors of a rig.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limits {
    windows: [Window; Parameter::COUNT],
}

/// As a number that can be subtracted.
const fn signed(ns: u64) -> i64 {
    ns.cast_signed()
}

/// A limit as a datasheet has it: nanoseconds, whether they are permitted, source.
type Printed = Option<(i64, Reach, &'static str)>;

use super::figures::AC;
const ORDER: &str = "no figure: before that, the switch works against the pin";

/// Limits of the DS18B20.
fn ds18b20(parameter: Parameter) -> (Printed, Printed) {
    use Parameter as P;
    use Reach::{Excluding, Including};
    let at_least = |ns: u64, source| (Some((signed(ns), Including, source)), None);
    let within = |least: u64, most: u64, source| {
        (Some((signed(least), Including, source)), Some((signed(most), Including, source)))
    };
    match parameter {
        P::ResetLow => (
            Some((signed(f::RESET_LOW_LEAST_NS), Including, AC)),
            Some((
                signed(f::RESET_LOW_MOST_PARASITE_NS),
                Including,
                "DS18B20 datasheet (7/19), AC table, note 13 (parasite power)",
            )),
        ),
        P::ResetHigh => at_least(f::RESET_HIGH_LEAST_NS, AC),
        // A pulse may begin right after a look and last for tPDLOW. The first may begin at tPDHIGH.
        P::PresenceGap => (
            None,
            Some((
                signed(f::PRESENCE_LOW_LEAST_NS),
                Including,
                "DS18B20 datasheet (7/19), AC table, tPDLOW after tPDHIGH (computed)",
            )),
        ),
        P::PresenceLast => {
            at_least(f::PRESENCE_DELAY_MOST_NS, "DS18B20 datasheet (7/19), AC table, tPDHIGH at most (computed)")
        }
        P::WriteZeroLow => within(f::WRITE_ZERO_LOW_LEAST_NS, f::WRITE_ZERO_LOW_MOST_NS, AC),
        P::WriteOneLow => within(f::WRITE_ONE_LOW_LEAST_NS, f::WRITE_ONE_LOW_MOST_NS, AC),
        P::ReadStart => (Some((signed(f::READ_START_NS), Excluding, "DS18B20 datasheet (7/19), Figure 17")), None),
        P::ReadSample => (None, Some((signed(f::READ_VALID_NS), Excluding, f::READ))),
        // Its upper limit of 120 us is not to be seen in this time: the line may stay high after a slot for any time.
        P::Slot => {
            at_least(f::EDGE_TO_EDGE_LEAST_NS, "DS18B20 datasheet (7/19), AC table, tSLOT and tREC added (computed)")
        }
        P::Recovery => at_least(f::RECOVERY_LEAST_NS, AC),
        P::PowerOn => (Some((0, Including, ORDER)), Some((signed(f::STRONG_PULL_UP_MOST_NS), Including, AC))),
        P::PowerOff => at_least(0, ORDER),
    }
}

/// Limits that the DS28EA00 has of its own, at standard speed.
fn ds28ea00(parameter: Parameter) -> Option<(Printed, Printed)> {
    const TABLE: &str = "DS28EA00 datasheet, electrical table";
    let at_least = |ns: u64, source| (Some((signed(ns), Reach::Including, source)), None);
    match parameter {
        Parameter::ResetLow => Some((
            Some((signed(f::RESET_LOW_LEAST_NS), Reach::Including, TABLE)),
            Some((signed(f::DS28EA00_RESET_LOW_MOST_NS), Reach::Including, TABLE)),
        )),
        // Its slot is longer than that of the DS18B20 by as much as its recovery, so recovery is taken to be a part of it.
        Parameter::Slot => Some(at_least(
            f::DS28EA00_SLOT_LEAST_NS,
            "DS28EA00 datasheet, electrical table, tSLOT (taken to include tREC)",
        )),
        Parameter::Recovery => Some(at_least(f::DS28EA00_RECOVERY_LEAST_NS, TABLE)),
        _ => None,
    }
}

/// The limits of one part.
fn window(part: Family, parameter: Parameter) -> Window {
    let own = match part {
        Family::Ds18b20 => Some(ds18b20(parameter)),
        Family::Ds28ea00 => ds28ea00(parameter),
        Family::Ds18s20 | Family::Ds1822 | Family::Ds1825 => None,
    };
    let basis = if own.is_some() { Basis::OwnDatasheet } else { Basis::AsDs18b20 };
    let (least, most) = own.unwrap_or_else(|| ds18b20(parameter));
    let bound = |printed: Printed| {
        printed.map(|(ns, reach, source)| {
            let basis = if source == ORDER { Basis::Order } else { basis };
            Limit { ns, reach, part, basis, source: source.into() }
        })
    };
    Window { least: bound(least), most: bound(most) }
}

/// The stricter of two limits; of equal ones the first. `stricter`: how the stricter of two compares with the other.
fn strictest(one: Option<Limit>, other: Option<Limit>, stricter: Ordering) -> Option<Limit> {
    match (one, other) {
        (Some(one), Some(other)) => {
            let order = other.ns.cmp(&one.ns);
            let excludes = order.is_eq() && other.reach == Reach::Excluding && one.reach == Reach::Including;
            Some(if order == stricter || excludes { other } else { one })
        }
        (one, other) => one.or(other),
    }
}

impl Limits {
    /// The strictest limits of these families. Where several ask the same, one whose own datasheet was seen is named. Of none
    /// at all: those of the DS18B20.
    #[must_use]
    pub fn for_families(families: &[Family]) -> Self {
        let mut parts = families.to_vec();
        parts.sort_by_key(|part| match part {
            Family::Ds18b20 => 0,
            Family::Ds28ea00 => 1,
            Family::Ds18s20 | Family::Ds1822 | Family::Ds1825 => 2,
        });
        let first = parts.first().copied().unwrap_or(Family::Ds18b20);
        let windows = Parameter::ALL.map(|parameter| {
            parts.iter().fold(window(first, parameter), |so_far, part| {
                let Window { least, most } = window(*part, parameter);
                Window {
                    least: strictest(so_far.least, least, Ordering::Greater),
                    most: strictest(so_far.most, most, Ordering::Less),
                }
            })
        });
        Self { windows }
    }

    /// The limits of one time.
    #[must_use]
    pub fn of(&self, parameter: Parameter) -> &Window {
        &self.windows[parameter.place()]
    }

    /// Low pulses of a slot are write-0 pulses from here on: half-way between the limits, since one in between breaks both.
    pub(crate) fn zero_from_ns(&self) -> i64 {
        half_way(self.of(Parameter::WriteOneLow), self.of(Parameter::WriteZeroLow))
    }

    /// Low pulses are resets from here on: half-way between the limits, as above.
    pub(crate) fn reset_from_ns(&self) -> i64 {
        half_way(self.of(Parameter::WriteZeroLow), self.of(Parameter::ResetLow))
    }
}

fn half_way(shorter: &Window, longer: &Window) -> i64 {
    let ns = |bound: &Option<Limit>| bound.as_ref().map_or(0, |bound| bound.ns);
    ns(&shorter.most).midpoint(ns(&longer.least))
}
