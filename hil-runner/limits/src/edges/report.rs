//! What the judge of edges hands out: measurements, violations, and counts of all that it took in.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{Parameter, Side, Window};

/// So many violations are kept, the first ones. All are counted.
pub const VIOLATIONS_KEPT: usize = 20;

/// All that was seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EdgeReport {
    /// Each time, in the order of [`Parameter::ALL`].
    pub parameters: Vec<ParameterReport>,
    /// Violations, the first [`VIOLATIONS_KEPT`] of them.
    pub violations: Vec<Violation>,
    /// How many violations there were in all.
    pub violated: u64,
    /// Low pulses of the master.
    pub pulses: Pulses,
    /// Looks of the master at the line.
    pub looks: Looks,
    /// What could not be classified.
    pub unclear: Unclear,
}

/// What was seen of one time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct ParameterReport {
    /// Which.
    pub parameter: Parameter,
    /// Its limits.
    pub window: Window,
    /// What was seen; none where it never occurred.
    pub seen: Option<Seen>,
    /// How often a limit was broken.
    pub violated: u64,
}

/// Measurements of one time. Negative where one thing came before the other and should have come after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Seen {
    /// How many.
    pub count: u64,
    /// The smallest.
    pub least_ns: i64,
    /// The largest.
    pub most_ns: i64,
    /// The one nearest to a limit, or furthest beyond it; none where only an order is asked for, and was kept.
    pub nearest: Option<Nearest>,
}

/// A measurement near a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Nearest {
    /// The distance to the limit; negative beyond it.
    pub margin_ns: i64,
    /// The measurement.
    pub value_ns: i64,
    /// Which limit.
    pub side: Side,
    /// When the time began.
    pub at_ns: u64,
}

/// A time outside its limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Violation {
    /// When the time began.
    pub at_ns: u64,
    /// Which time.
    pub parameter: Parameter,
    /// How long it was.
    pub value_ns: i64,
    /// Which limit it breaks.
    pub side: Side,
    /// That limit.
    pub limit_ns: i64,
}

/// Low pulses of the master, by kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Pulses {
    /// Resets.
    pub resets: u64,
    /// Write-0 slots.
    pub zeros: u64,
    /// Write-1 and read slots.
    pub ones: u64,
}

/// Looks of the master at the line, by what they are for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Looks {
    /// At the bit of a slot.
    pub samples: u64,
    /// After a reset, before any presence pulse.
    pub rise_checks: u64,
    /// For presence.
    pub presence: u64,
    /// At a line that is to be idle, between slots.
    pub idle: u64,
    /// At a line under the strong pull-up.
    pub powered: u64,
}

/// What could not be classified, or not be measured. Nothing is left out in silence.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Unclear {
    /// Events that came with an earlier time than those before. What was under way is forgotten with each.
    pub out_of_order: u64,
    /// Edges to a state that was there already.
    pub repeated: u64,
    /// Releases and openings of which the beginning was not seen.
    pub without_beginning: u64,
    /// Pulses, slots and resets that were not over at the end, or when the order was lost.
    pub unfinished: u64,
    /// Write-1 or read slots without a sample in time: their sample point is not known.
    pub slots_not_looked_at: u64,
    /// Resets without a sample in the presence window.
    pub resets_not_looked_at: u64,
    /// Looks while the master itself pulled the line low.
    pub looks_while_low: u64,
    /// Closings of the strong pull-up with no slot before them.
    pub power_without_slot: u64,
}

impl Unclear {
    /// Each count with the words for one of it, in the order of reports.
    #[must_use]
    pub const fn counts(&self) -> [(u64, &'static str); 8] {
        [
            (self.out_of_order, "event out of order"),
            (self.repeated, "edge to where it was"),
            (self.without_beginning, "edge without a beginning"),
            (self.unfinished, "unfinished pulse or slot"),
            (self.slots_not_looked_at, "short slot without a look"),
            (self.resets_not_looked_at, "reset without a look"),
            (self.looks_while_low, "look while driving low"),
            (self.power_without_slot, "strong pull-up without a slot"),
        ]
    }
}
