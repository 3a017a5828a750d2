//! Keys of a check at a fixed point.

use super::{DIFFERENCE, HOUR_US, SENSORS};
use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::form::{Form, Key, Section, Without};
use slotwise_terms::input::quantity::Range;

/// Ten seconds, in microseconds. Chosen: some rounds of readings.
const SHORTEST_US: i64 = 10_000_000;

/// Which one, in the order of [`FixedPoint`](slotwise_terms::fixed_point::FixedPoint).
pub(crate) static AT: Key = Key {
    name: "at",
    form: Form::Word(&["ice point", "steam point"]),
    without: Without::Required,
    meaning: "Which fixed point: `ice point`, 0 degC, in a stirred slush of ice and water, both pure (ASTM E563); `steam point`, in \
              the steam over boiling water, whose temperature is that of saturated steam at the pressure (IAPWS-IF97).",
};

/// Pressure. From the highest dwellings, some 5100 m up, to the shore of the Dead Sea (chosen).
pub(crate) static PRESSURE: Key = Key {
    name: "pressure",
    form: Form::Quantity(Range::new(Dimension::Pressure, 50_000, 110_000)),
    without: Without::Else("required at the steam point"),
    meaning: "Station pressure: what a barometer shows at this place and hour, not reduced to sea level as in forecasts. Altitude alone \
              is not enough: weather moves the steam point by 0.8 degC. Only at the steam point.",
};

/// Span of a stable bath. At least one step of 12 bits, 0.0625 degC, which noise always takes.
pub(crate) static STABLE_WITHIN: Key = Key {
    name: "stable_within",
    form: Form::Quantity(Range::new(Dimension::TemperatureDifference, 70, 2_000)),
    without: Without::Default("0.2 degC"),
    meaning: "The bath is stirred and stable once the readings of each sensor stay within this span, and neither a sensor nor the \
              distance between warmest and coldest drifts by more than a quarter of it from the earlier half of the time to the later.",
};

/// How long it is stable.
pub(crate) static FOR: Key = Key {
    name: "for",
    form: Form::Quantity(Range::new(Dimension::Time, SHORTEST_US, HOUR_US).in_steps_of(1_000)),
    without: Without::Default("2 min"),
    meaning: "For how long. What a sensor reads there is the mean of its readings in the later half of this time.",
};

/// End of patience.
pub(crate) static GIVE_UP_AFTER: Key = Key {
    name: "give_up_after",
    form: Form::Quantity(Range::new(Dimension::Time, SHORTEST_US, 4 * HOUR_US).in_steps_of(1_000)),
    without: Without::Default("30 min"),
    meaning: "If it is not stable by then, the step fails. Longer than `for`.",
};

/// Distance allowed.
pub(crate) static FIXED_WITHIN: Key = Key {
    name: "within",
    form: DIFFERENCE,
    without: Without::Else("accuracy limit in the datasheet of each part"),
    meaning: "Largest difference between the fixed point and what a sensor reads there.",
};

/// A check at a fixed point.
pub(crate) static FIXED_POINT_SECTION: Section = Section {
    heading: "fixed_point",
    keys: &[&AT, &PRESSURE, &SENSORS, &STABLE_WITHIN, &FOR, &GIVE_UP_AFTER, &FIXED_WITHIN],
};
