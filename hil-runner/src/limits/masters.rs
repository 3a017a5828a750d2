//! The limits of each time, the part that sets them, and where they are printed.

use std::cmp::Ordering;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use slotwise::thermometer::Family;

use super::{Parameter, Side};
use crate::record::notation;

/// Whether the limit itself is still permitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Reach {
    /// It is.
    Including,
    /// It is not.
    Excluding,
}

impl Reach {
    /// How a limit is written: `>=` or `>` for the least, `<=` or `<` for the most.
    #[must_use]
    pub const fn sign(self, side: Side) -> &'static str {
        match (side, self) {
            (Side::Least, Self::Including) => ">=",
            (Side::Least, Self::Excluding) => ">",
            (Side::Most, Self::Including) => "<=",
            (Side::Most, Self::Excluding) => "<",
        }
    }
}

/// By what right a part sets a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// Its own datasheet prints it, or it is computed from what is printed there.
    OwnDatasheet,
    /// Taken to be as in the DS18B20, whose datasheet is the source: that of the part was not seen for it (assumed).
    AsDs18b20,
    /// No datasheet has a figure: one thing must not come before the other. Kept, it is no matter of how closely.
    Order,
}

/// One limit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Bound {
    /// The limit, in nanoseconds.
    pub ns: i64,
    /// Whether it is itself permitted.
    pub reach: Reach,
    /// The part that sets it.
    #[serde(with = "notation::part")]
    #[schemars(with = "String")]
    pub part: Family,
    /// By what right.
    pub basis: Basis,
    /// Where it is printed.
    pub source: String,
}

impl Bound {
    /// Whether a distance to this limit, positive inside, is permitted.
    pub(super) fn permits(&self, margin_ns: i64) -> bool {
        match self.reach {
            Reach::Including => margin_ns >= 0,
            Reach::Excluding => margin_ns > 0,
        }
    }
}

/// The limits of one time.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Window {
    /// At least this.
    pub least: Option<Bound>,
    /// At most this.
    pub most: Option<Bound>,
}

/// The limits of all times, for the sensors of a rig.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limits {
    windows: [Window; Parameter::COUNT],
}

const US: i64 = 1_000;

/// The earliest presence pulse after the release of a reset: tPDHIGH, at least 15 us (DS18B20 datasheet (7/19), AC table).
pub(super) const PRESENCE_EARLIEST_NS: u64 = 15_000;
/// The latest beginning of a presence pulse: tPDHIGH, at most 60 us (same table).
pub(super) const PRESENCE_LATEST_NS: u64 = 60_000;
/// Looks after a reset are for presence until tRSTH, 480 us, has passed (same table).
pub(super) const PRESENCE_PHASE_NS: u64 = 480_000;
/// No slot is longer: tSLOT, at most 120 us (same table). A look after that is none at the bit of the slot.
pub(super) const SLOT_LONGEST_NS: u64 = 120_000;

/// A limit as a datasheet has it: nanoseconds, whether they are permitted, source.
type Printed = Option<(i64, Reach, &'static str)>;

const AC: &str = "DS18B20 datasheet (7/19), AC table";
const ORDER: &str = "no figure: before that, the switch works against the pin";

/// Limits of the DS18B20.
fn ds18b20(parameter: Parameter) -> (Printed, Printed) {
    use Parameter as P;
    use Reach::{Excluding, Including};
    let at_least = |us: i64, source| (Some((us * US, Including, source)), None);
    let within =
        |least: i64, most: i64, source| (Some((least * US, Including, source)), Some((most * US, Including, source)));
    match parameter {
        P::ResetLow => (
            Some((480 * US, Including, AC)),
            Some((960 * US, Including, "DS18B20 datasheet (7/19), AC table, note 13 (parasite power)")),
        ),
        P::ResetHigh => at_least(480, AC),
        // A pulse may begin right after a look and last for tPDLOW. The first may begin at tPDHIGH.
        P::PresenceGap => {
            (None, Some((60 * US, Including, "DS18B20 datasheet (7/19), AC table, tPDLOW after tPDHIGH (computed)")))
        }
        P::PresenceLast => at_least(60, "DS18B20 datasheet (7/19), AC table, tPDHIGH at most (computed)"),
        P::WriteZeroLow => within(60, 120, AC),
        P::WriteOneLow => within(1, 15, AC),
        P::ReadStart => (Some((US, Excluding, "DS18B20 datasheet (7/19), Figure 17")), None),
        P::ReadSample => (None, Some((15 * US, Excluding, "DS18B20 datasheet (7/19), Read Time Slots and AC table"))),
        // Its upper limit of 120 us is not to be seen in this time: the line may stay high after a slot for any time.
        P::Slot => at_least(61, "DS18B20 datasheet (7/19), AC table, tSLOT and tREC added (computed)"),
        P::Recovery => at_least(1, AC),
        P::PowerOn => (Some((0, Including, ORDER)), Some((10 * US, Including, AC))),
        P::PowerOff => at_least(0, ORDER),
    }
}

/// Limits that the DS28EA00 has of its own, at standard speed.
fn ds28ea00(parameter: Parameter) -> Option<(Printed, Printed)> {
    const TABLE: &str = "DS28EA00 datasheet, electrical table";
    let at_least = |us: i64, source| (Some((us * US, Reach::Including, source)), None);
    match parameter {
        Parameter::ResetLow => {
            Some((Some((480 * US, Reach::Including, TABLE)), Some((640 * US, Reach::Including, TABLE))))
        }
        // Its slot is longer than that of the DS18B20 by as much as its recovery, so recovery is taken to be a part of it.
        Parameter::Slot => Some(at_least(65, "DS28EA00 datasheet, electrical table, tSLOT (taken to include tREC)")),
        Parameter::Recovery => Some(at_least(5, TABLE)),
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
            Bound { ns, reach, part, basis, source: source.into() }
        })
    };
    Window { least: bound(least), most: bound(most) }
}

/// The stricter of two limits; of equal ones the first. `stricter`: how the stricter of two compares with the other.
fn strictest(one: Option<Bound>, other: Option<Bound>, stricter: Ordering) -> Option<Bound> {
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
    pub(super) fn zero_from_ns(&self) -> i64 {
        half_way(self.of(Parameter::WriteOneLow), self.of(Parameter::WriteZeroLow))
    }

    /// Low pulses are resets from here on: half-way between the limits, as above.
    pub(super) fn reset_from_ns(&self) -> i64 {
        half_way(self.of(Parameter::WriteZeroLow), self.of(Parameter::ResetLow))
    }
}

fn half_way(shorter: &Window, longer: &Window) -> i64 {
    let ns = |bound: &Option<Bound>| bound.as_ref().map_or(0, |bound| bound.ns);
    ns(&shorter.most).midpoint(ns(&longer.least))
}
