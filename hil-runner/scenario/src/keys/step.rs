//! Keys of the file, of steps, and of all actions but measurements and faults.

use super::{FAILURES, FIXED_POINT_SECTION, INJECT_SECTION, MEASURE_SECTION};
use crate::MAX_ROUNDS;
use slotwise_rig::keys::TEMPERATURE;
use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::form::{Form, Key, Section, Without};
use slotwise_terms::input::quantity::Range;

/// Most steps of one list.
pub(crate) const MAX_STEPS: usize = 1_000;
/// Most cautions.
const MAX_CAUTIONS: usize = 20;
/// Longest single wait or repetition: a week, in microseconds.
pub(crate) const WEEK_US: i64 = 7 * 86_400_000_000;
/// An hour, in microseconds.
pub(crate) const HOUR_US: i64 = 3_600_000_000;
/// What two temperatures can differ by: the width of the measuring range.
pub(crate) const DIFFERENCE: Form = Form::Quantity(Range::new(Dimension::TemperatureDifference, 0, 180_000));

/// Name.
pub static SCENARIO: Key = Key::of_file("scenario", "What the scenario is called.");

/// Cautions.
pub(crate) static CAUTIONS: Key = Key {
    name: "cautions",
    form: Form::Sentences(MAX_CAUTIONS),
    without: Without::Else("none"),
    meaning: "What people must know before it runs; shown first.",
};

/// Steps.
pub static STEP: Key = Key {
    name: "step",
    form: Form::Tables(&STEP_SECTION, MAX_STEPS),
    without: Without::Required,
    meaning: "What is done, in order.",
};

/// The top of the file.
pub static TOP_SECTION: Section = Section { heading: "the scenario file", keys: &[&SCENARIO, &CAUTIONS, &STEP] };

/// Label of a step.
pub static LABEL: Key = Key {
    name: "label",
    form: Form::Name(80),
    without: Without::Else("says what is done"),
    meaning: "What reports call the step.",
};

/// Find.
pub static FIND: Key = Key {
    name: "find",
    form: Form::Table(&FIND_SECTION),
    without: Without::Else("-"),
    meaning: "Search the line and compare with the inventory of the rig.",
};

/// Configure.
pub(crate) static CONFIGURE: Key = Key {
    name: "configure",
    form: Form::Table(&CONFIGURE_SECTION),
    without: Without::Else("-"),
    meaning: "Write settings, read them back and, with the key save, save them.",
};

/// Holds.
pub(crate) static HOLDS: Key = Key {
    name: "holds",
    form: Form::Table(&HOLDS_SECTION),
    without: Without::Else("-"),
    meaning: "Read the settings that sensors hold, and write nothing. After a power cycle: what their EEPROM holds.",
};

/// Measure.
pub static MEASURE: Key = Key {
    name: "measure",
    form: Form::Table(&MEASURE_SECTION),
    without: Without::Else("-"),
    meaning: "Convert and read. Always expected: the CRC is right, the number is the published one for its bytes, no doubt.",
};

/// Check at a fixed point.
pub(crate) static FIXED_POINT: Key = Key {
    name: "fixed_point",
    form: Form::Table(&FIXED_POINT_SECTION),
    without: Without::Else("-"),
    meaning: "Bring sensors to a fixed point, wait until the bath is stable, and hold each against it. They stay there until they are \
              brought elsewhere.",
};

/// Alarm search.
pub static ALARM_SEARCH: Key = Key {
    name: "alarm_search",
    form: Form::Table(&ALARM_SEARCH_SECTION),
    without: Without::Else("-"),
    meaning: "Search for sensors whose last conversion was at or beyond an alarm limit.",
};

/// Power cycle.
pub(crate) static POWER_CYCLE: Key = Key {
    name: "power_cycle",
    form: Form::Table(&POWER_CYCLE_SECTION),
    without: Without::Else("-"),
    meaning: "Take supply and pull-up away for a time.",
};

/// Ambient.
pub static AMBIENT: Key = Key {
    name: "ambient",
    form: Form::Table(&AMBIENT_SECTION),
    without: Without::Else("-"),
    meaning: "Change the temperature around sensors. They follow with their lag.",
};

/// Inject.
pub(crate) static INJECT: Key = Key {
    name: "inject",
    form: Form::Table(&INJECT_SECTION),
    without: Without::Else("-"),
    meaning: "Break something on purpose.",
};

/// Clear, in the order of [`crate::fault::KINDS`].
pub(crate) static CLEAR: Key = Key {
    name: "clear",
    form: Form::Word(&["short", "open", "unplug", "noise", "brown_out", "slow_sensor", "pull_up", "bit_errors"]),
    without: Without::Else("-"),
    meaning: "Mend every fault of this kind, which must be injected somewhere in the file.",
};

/// Wait.
pub(crate) static WAIT: Key = Key {
    name: "wait",
    form: Form::Quantity(Range::new(Dimension::Time, 1_000, WEEK_US).in_steps_of(1_000)),
    without: Without::Else("-"),
    meaning: "Let time pass.",
};

/// Repeat.
pub(crate) static REPEAT: Key = Key {
    name: "repeat",
    form: Form::Table(&REPEAT_SECTION),
    without: Without::Else("-"),
    meaning: "Do steps again and again. Repetitions may stand in each other, up to three deep.",
};

/// Keys of a step: its label and the actions, of which it has one.
static STEP_KEYS: [&Key; 13] = [
    &LABEL,
    &FIND,
    &CONFIGURE,
    &HOLDS,
    &MEASURE,
    &FIXED_POINT,
    &ALARM_SEARCH,
    &POWER_CYCLE,
    &AMBIENT,
    &INJECT,
    &CLEAR,
    &WAIT,
    &REPEAT,
];

/// A step.
pub(crate) static STEP_SECTION: Section = Section { heading: "[[step]]", keys: &STEP_KEYS };

/// A step that is repeated.
pub(crate) static REPEATED_STEP_SECTION: Section = Section { heading: "[[step.repeat.step]]", keys: &STEP_KEYS };

/// How often to search.
pub static TIMES: Key = Key {
    name: "times",
    form: Form::Whole(1, 1_000),
    without: Without::Else("1"),
    meaning: "How many searches. Each must find the same.",
};

/// The sensors to find.
pub(crate) static FIND_EXPECT: Key = Key {
    name: "expect",
    form: Form::Sensors,
    without: Without::Default("all"),
    meaning: "Which sensors must be found, and no others.",
};

/// How a search fails.
pub(crate) static FIND_FAILS: Key = Key {
    name: "fails",
    form: Form::Words(&FAILURES),
    without: Without::Else("it must not fail"),
    meaning: "Each search must fail, for one of these reasons.",
};

/// Find.
pub(crate) static FIND_SECTION: Section = Section { heading: "find", keys: &[&TIMES, &FIND_EXPECT, &FIND_FAILS] };

/// The sensors of a step.
pub static SENSORS: Key = Key {
    name: "sensors",
    form: Form::Sensors,
    without: Without::Default("all"),
    meaning: "Which sensors. At least one.",
};

/// Resolution.
pub static RESOLUTION: Key = Key {
    name: "resolution",
    form: Form::Whole(9, 12),
    without: Without::Else("as it is"),
    meaning: "Bits of resolution. A DS18S20 among others keeps what it has; alone it cannot have one.",
};

/// Alarm limits.
pub(crate) static ALARM: Key = Key {
    name: "alarm",
    form: Form::Table(&ALARM_SECTION),
    without: Without::Else("as they are"),
    meaning: "Alarm limits.",
};

/// Saving, in the order of [`Save`](crate::Save).
pub(crate) static SAVE: Key = Key {
    name: "save",
    form: Form::Word(&["no", "if changed", "unchanged"]),
    without: Without::Default("no"),
    meaning: "Whether settings go to EEPROM: written only if they differ, or expected not to differ.",
};

/// How configuring fails.
pub(crate) static CONFIGURE_FAILS: Key = Key {
    name: "fails",
    form: Form::Words(&FAILURES),
    without: Without::Else("it must not fail"),
    meaning: "Each sensor must fail, for one of these reasons.",
};

/// Configure.
pub(crate) static CONFIGURE_SECTION: Section =
    Section { heading: "configure", keys: &[&SENSORS, &RESOLUTION, &ALARM, &SAVE, &CONFIGURE_FAILS] };

/// Resolution held.
pub(crate) static HELD_RESOLUTION: Key = Key {
    name: "resolution",
    form: Form::Whole(9, 12),
    without: Without::Else("any"),
    meaning: "Bits of resolution that must be there. A DS18S20 among others has none; for those alone the key is refused.",
};

/// Alarm limits held.
pub(crate) static HELD_ALARM: Key = Key {
    name: "alarm",
    form: Form::Table(&ALARM_SECTION),
    without: Without::Else("any"),
    meaning: "Alarm limits that must be there.",
};

/// Holds.
pub(crate) static HOLDS_SECTION: Section =
    Section { heading: "holds", keys: &[&SENSORS, &HELD_RESOLUTION, &HELD_ALARM] };

/// Alarm limits are whole degrees inside the operating range.
const LIMIT: Form = Form::Quantity(Range::new(Dimension::Temperature, -55_000, 125_000).in_steps_of(1_000));

/// Low limit.
pub static LOW: Key =
    Key { name: "low", form: LIMIT, without: Without::Required, meaning: "Alarm at this and below, in whole degrees." };

/// High limit.
pub static HIGH: Key = Key {
    name: "high",
    form: LIMIT,
    without: Without::Required,
    meaning: "Alarm at this and above, in whole degrees.",
};

/// Alarm limits.
pub(crate) static ALARM_SECTION: Section = Section { heading: "alarm", keys: &[&LOW, &HIGH] };

/// Who is in alarm.
pub(crate) static ALARM_EXPECT: Key = Key {
    name: "expect",
    form: Form::Sensors,
    without: Without::Required,
    meaning: "Which sensors must be in alarm, and no others.",
};

/// Alarm search.
pub(crate) static ALARM_SEARCH_SECTION: Section = Section { heading: "alarm_search", keys: &[&ALARM_EXPECT] };

/// Time without power.
pub(crate) static OFF: Key = Key {
    name: "off",
    form: Form::Quantity(Range::new(Dimension::Time, 1_000, HOUR_US).in_steps_of(1_000)),
    without: Without::Required,
    meaning: "For how long.",
};

/// Power cycle.
pub(crate) static POWER_CYCLE_SECTION: Section = Section { heading: "power_cycle", keys: &[&OFF] };

/// Temperature to change to.
pub(crate) static TO: Key = Key { name: "to", form: TEMPERATURE, without: Without::Required, meaning: "To what." };

/// Ambient.
pub(crate) static AMBIENT_SECTION: Section = Section { heading: "ambient", keys: &[&SENSORS, &TO] };

/// How many rounds.
pub static ROUNDS: Key = Key {
    name: "times",
    form: Form::Whole(1, MAX_ROUNDS as i64),
    without: Without::Else("`lasts`"),
    meaning: "How many rounds.",
};

/// How long.
pub(crate) static LASTS: Key = Key {
    name: "lasts",
    form: Form::Quantity(Range::new(Dimension::Time, 1_000, WEEK_US).in_steps_of(1_000)),
    without: Without::Else("`times`"),
    meaning: "Rounds begin until this much of the rig's time has passed.",
};

/// How many rounds may fail.
pub(crate) static MAY_FAIL: Key = Key {
    name: "may_fail",
    form: Form::Quantity(Range::new(Dimension::Share, 0, 990_000)),
    without: Without::Default("0 %"),
    meaning: "Largest share of rounds that may fail. A round fails if one of its steps does. Only what is lost is forgiven (no reading, a search or a write that failed, a sensor not found); something wrong (a number, a doubt, a time, settings, a stranger) in any round fails the repetition.",
};

/// What is repeated.
pub(crate) static REPEATED_STEP: Key = Key {
    name: "step",
    form: Form::Tables(&REPEATED_STEP_SECTION, MAX_STEPS),
    without: Without::Required,
    meaning: "The steps of one round, with the keys of `[[step]]`.",
};

/// Repeat.
pub(crate) static REPEAT_SECTION: Section =
    Section { heading: "[step.repeat]", keys: &[&ROUNDS, &LASTS, &MAY_FAIL, &REPEATED_STEP] };
