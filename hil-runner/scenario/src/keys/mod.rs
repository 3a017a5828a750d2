//! The keys of a scenario file.

mod fault;
mod fixed_point;
mod measure;
mod step;
mod words;

#[cfg(test)]
use slotwise_terms::input::form::Section;

pub(crate) use fault::*;
pub(crate) use fixed_point::*;
pub(crate) use measure::*;
pub(crate) use step::*;
pub(crate) use words::*;

/// All sections, in the order of the docs. Repeated steps have the keys of steps.
#[cfg(test)]
pub static SECTIONS: [&Section; 19] = [
    &TOP_SECTION,
    &STEP_SECTION,
    &FIND_SECTION,
    &CONFIGURE_SECTION,
    &ALARM_SECTION,
    &HOLDS_SECTION,
    &MEASURE_SECTION,
    &NEAR_SECTION,
    &REFERENCE_SECTION,
    &FIXED_POINT_SECTION,
    &ALARM_SEARCH_SECTION,
    &POWER_CYCLE_SECTION,
    &AMBIENT_SECTION,
    &INJECT_SECTION,
    &NOISE_SECTION,
    &BROWN_OUT_SECTION,
    &SLOW_SENSOR_SECTION,
    &BIT_ERRORS_SECTION,
    &REPEAT_SECTION,
];
