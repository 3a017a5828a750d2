//! Keys of a measurement.

use super::{DIFFERENCE, DOUBTS, FAILURES, SENSORS};
use slotwise_terms::input::form::{Form, Key, Section, Without};

/// How to convert, in the order of [`Convert`](crate::Convert).
pub static CONVERT: Key = Key {
    name: "convert",
    form: Form::Word(&["together", "one by one", "not"]),
    without: Without::Default("together"),
    meaning: "All at the same time; one after the other, each watched, which also proves a power-on value that was measured; or \
              none: what is read then must carry a doubt or fail.",
};

/// Proof, in the order of [`Proof`](crate::Proof).
pub(crate) static PROOF: Key = Key {
    name: "proof",
    form: Form::Word(&["each", "none"]),
    without: Without::Default("each"),
    meaning: "Each sensor must show that it converted: on its own supply it is started alone and seen busy, and the longest conversion \
              time passes; on parasite power its alarm flag must change. Every scratchpad is read twice. Or nothing is proven: as fast as \
              the sensors are, but a pulse on the line can then leave an old number that passes for a new one.",
};

/// Near a reference.
pub static NEAR: Key = Key {
    name: "near",
    form: Form::TableOrTables(&NEAR_SECTION),
    without: Without::Else("not checked"),
    meaning: "Each number lies this near to a reference.",
};

/// Agreement.
pub(crate) static AGREE: Key = Key {
    name: "agree",
    form: DIFFERENCE,
    without: Without::Else("not checked"),
    meaning: "Largest minus smallest number is at most this. For two sensors and more.",
};

/// Published points.
pub(crate) static PUBLISHED: Key = Key {
    name: "published",
    form: Form::YesNo,
    without: Without::Default("false"),
    meaning: "The bytes received are a row of the published conversion table.",
};

/// Quantised.
pub(crate) static QUANTISED: Key = Key {
    name: "quantised",
    form: Form::YesNo,
    without: Without::Default("false"),
    meaning: "Each number is a whole number of steps of the resolution.",
};

/// In time.
pub(crate) static IN_TIME: Key = Key {
    name: "in_time",
    form: Form::YesNo,
    without: Without::Default("false"),
    meaning: "Conversion takes no longer than the datasheet allows at the resolution.",
};

/// Doubts.
pub(crate) static DOUBT: Key = Key {
    name: "doubt",
    form: Form::Words(&DOUBTS),
    without: Without::Else("no doubt is allowed"),
    meaning: "Each reading carries these doubts. Others are then allowed too.",
};

/// Corrected numbers.
pub(crate) static CORRECTED: Key = Key {
    name: "corrected",
    form: Form::YesNo,
    without: Without::Default("false"),
    meaning: "`near` and `agree` compare the numbers with the corrections of the rig file added, which each of the sensors must have. \
              All other expectations are about what was read.",
};

/// How a measurement fails.
pub(crate) static MEASURE_FAILS: Key = Key {
    name: "fails",
    form: Form::Words(&FAILURES),
    without: Without::Else("it must not fail"),
    meaning: "There is no reading, for one of these reasons. Goes with no other expectation.",
};

/// Measure.
pub(crate) static MEASURE_SECTION: Section = Section {
    heading: "measure",
    keys: &[
        &SENSORS,
        &CONVERT,
        &PROOF,
        &CORRECTED,
        &NEAR,
        &AGREE,
        &PUBLISHED,
        &QUANTISED,
        &IN_TIME,
        &DOUBT,
        &MEASURE_FAILS,
    ],
};

/// Reference.
pub static REFERENCE: Key = Key {
    name: "reference",
    form: Form::Special("\"rig\", a temperature or a sensor", "{ sensor = \"a label\" }"),
    without: Without::Required,
    meaning: "What to compare with: what the rig itself knows, a fixed point, or a sensor measured in the same step.",
};

/// Tolerance.
pub(crate) static WITHIN: Key =
    Key { name: "within", form: DIFFERENCE, without: Without::Required, meaning: "Largest difference." };

/// Near.
pub(crate) static NEAR_SECTION: Section = Section { heading: "near", keys: &[&REFERENCE, &WITHIN] };

/// A sensor as reference.
pub(crate) static REFERENCE_SENSOR: Key =
    Key { name: "sensor", form: Form::Sensor, without: Without::Required, meaning: "Which sensor to compare with." };

/// Reference.
pub(crate) static REFERENCE_SECTION: Section = Section { heading: "reference", keys: &[&REFERENCE_SENSOR] };
