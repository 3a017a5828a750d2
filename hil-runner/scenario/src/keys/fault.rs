//! Keys of faults to inject.

use super::HOUR_US;
use slotwise_rig::keys::PULL_UP_RANGE;
use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::form::{Form, Key, Section, Without};
use slotwise_terms::input::quantity::Range;

/// Short.
pub static SHORT: Key = Key {
    name: "short",
    form: Form::Quantity(Range::new(Dimension::Resistance, 1, 100_000)),
    without: Without::Else("-"),
    meaning: "Line to ground, through this resistance.",
};

/// Open.
pub(crate) static OPEN: Key = Key {
    name: "open",
    form: Form::Word(&["behind the master"]),
    without: Without::Else("-"),
    meaning: "The wire breaks here.",
};

/// Unplug.
pub(crate) static UNPLUG: Key =
    Key { name: "unplug", form: Form::Sensors, without: Without::Else("-"), meaning: "These come off the line." };

/// Noise.
pub static NOISE: Key = Key {
    name: "noise",
    form: Form::Table(&NOISE_SECTION),
    without: Without::Else("-"),
    meaning: "Pulses on the line at random moments.",
};

/// Brown-out.
pub(crate) static BROWN_OUT: Key = Key {
    name: "brown_out",
    form: Form::Table(&BROWN_OUT_SECTION),
    without: Without::Else("-"),
    meaning: "The supply dips. The step is over when the dip is.",
};

/// Slow sensor.
pub(crate) static SLOW_SENSOR: Key = Key {
    name: "slow_sensor",
    form: Form::Table(&SLOW_SENSOR_SECTION),
    without: Without::Else("-"),
    meaning: "A sensor converts slower than the datasheet allows.",
};

/// Another pull-up.
pub static PULL_UP: Key = Key {
    name: "pull_up",
    form: Form::Quantity(PULL_UP_RANGE),
    without: Without::Else("-"),
    meaning: "The pull-up becomes this one.",
};

/// Bit errors.
pub(crate) static BIT_ERRORS: Key = Key {
    name: "bit_errors",
    form: Form::Table(&BIT_ERRORS_SECTION),
    without: Without::Else("-"),
    meaning: "Bits flip while a sensor sends its scratchpad.",
};

/// Inject.
pub(crate) static INJECT_SECTION: Section = Section {
    heading: "inject",
    keys: &[&SHORT, &OPEN, &UNPLUG, &NOISE, &BROWN_OUT, &SLOW_SENSOR, &PULL_UP, &BIT_ERRORS],
};

/// Rate of pulses.
pub(crate) static NOISE_RATE: Key = Key {
    name: "rate",
    form: Form::Quantity(Range::new(Dimension::Rate, 1, 100_000)),
    without: Without::Required,
    meaning: "Pulses per second of rig time, on average.",
};

/// Width of pulses.
pub static WIDTH: Key = Key {
    name: "width",
    form: Form::Quantity(Range::new(Dimension::Time, 1, 10_000)),
    without: Without::Required,
    meaning: "How long each lasts.",
};

/// Noise.
pub(crate) static NOISE_SECTION: Section = Section { heading: "noise", keys: &[&NOISE_RATE, &WIDTH] };

/// Voltage of a dip.
pub(crate) static DIP_TO: Key = Key {
    name: "to",
    form: Form::Quantity(Range::new(Dimension::Voltage, 0, 6_000)),
    without: Without::Required,
    meaning: "To this voltage, below the supply of the rig.",
};

/// Length of a dip.
pub(crate) static DIP_LASTS: Key = Key {
    name: "lasts",
    form: Form::Quantity(Range::new(Dimension::Time, 1_000, HOUR_US).in_steps_of(1_000)),
    without: Without::Required,
    meaning: "For how long.",
};

/// Brown-out.
pub(crate) static BROWN_OUT_SECTION: Section = Section { heading: "brown_out", keys: &[&DIP_TO, &DIP_LASTS] };

/// The sensor with the fault.
pub(crate) static ONE_SENSOR: Key =
    Key { name: "sensor", form: Form::Sensor, without: Without::Required, meaning: "Which sensor." };

/// How slow.
pub(crate) static SLOW_CONVERSION: Key = Key {
    name: "conversion",
    form: Form::Quantity(Range::new(Dimension::Share, 1_010_000, 100_000_000).in_steps_of(1_000)),
    without: Without::Required,
    meaning: "Its conversion time, as a share of the longest that the datasheet allows.",
};

/// Slow sensor.
pub(crate) static SLOW_SENSOR_SECTION: Section =
    Section { heading: "slow_sensor", keys: &[&ONE_SENSOR, &SLOW_CONVERSION] };

/// Rate of bit errors.
pub(crate) static ERROR_RATE: Key = Key {
    name: "rate",
    form: Form::Quantity(Range::new(Dimension::Share, 1, 1_000_000)),
    without: Without::Required,
    meaning: "In this share of all transfers.",
};

/// Bit errors.
pub(crate) static BIT_ERRORS_SECTION: Section = Section { heading: "bit_errors", keys: &[&ONE_SENSOR, &ERROR_RATE] };
