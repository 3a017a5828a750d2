//! What is not known of a line, what is wrong beside margins, and what is to be minded.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use super::advice::ParasiteAdvice;
use super::measured::KnownNumbers;
use super::model::StatedNumbers;
use super::numbers::{Numbers, StrongPullUp};
use super::remedy::Remedy;
use super::seen::LineSeen;
use slotwise_terms::input::words::or;
use slotwise_terms::units::{count, percent, three};

/// What is wrong with sensors on parasite power for which there is no strong pull-up, and each of the changes that alone would mend it.
pub(super) fn refused(parasites: u32, strong_pull_up: StrongPullUp, numbers: Option<&Numbers>) -> Option<String> {
    (parasites > 0 && strong_pull_up == StrongPullUp::None).then(|| {
        let remedies = Remedy::for_parasites(numbers);
        let remedies: Vec<&str> = remedies.iter().map(|remedy| remedy.words()).collect();
        format!(
            "{} on parasite power and no strong pull-up: the driver refuses to send them to work, as the datasheet asks for one \
             (DS18B20 datasheet (7/19), Powering the DS18B20); {} would help",
            count(parasites as usize, "sensor"),
            or(&remedies)
        )
    })
}

/// What is not known of a strong pull-up whose resistance is not stated, and why.
const STRONG_PULL_UP: (&str, &str) = (
    "what parasite power carries with the strong pull-up",
    "the resistance of the strong pull-up is not stated: --strong-pull-up",
);

/// Something that is not known.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct NotKnown {
    /// What.
    pub what: String,
    /// Why.
    pub why: String,
}

/// What is not known of a line that was measured.
pub(super) fn not_known(seen: &LineSeen, stated: &StatedNumbers, known: &KnownNumbers) -> Vec<NotKnown> {
    let mut all = Vec::new();
    let mut add = |what: &str, why: &str| all.push(NotKnown { what: what.into(), why: why.into() });
    const BLIND: &str = "this rig does not see the line after a reset pulse";
    if seen.rise_ns.is_none() {
        add("rise time, RC product, capacitance, length of the cable, all margins of a rise, and advice", BLIND);
    }
    if seen.presence_delay_ns.is_none() || seen.presence_width_ns.is_none() {
        add("tPDHIGH and tPDLOW", BLIND);
    }
    if seen.read_sample_ns.is_none() {
        let why = "this rig does not see the master's edges: the driver's own figure is taken";
        add("the moment of the read sample", why);
    }
    let missing = [(stated.supply_v, "--supply"), (stated.pull_up_ohm, "--pull-up")];
    let missing: Vec<&str> = missing.iter().filter(|(stated, _)| stated.is_none()).map(|(_, option)| *option).collect();
    if !missing.is_empty() {
        let why = format!("this rig does not measure it, and it is not stated: {}", missing.join(", "));
        let what = if stated.pull_up_ohm.is_none() {
            "capacitance, length of the cable, margins of levels and recovery, and advice"
        } else {
            "margins of levels and recovery, and advice"
        };
        add(what, &why);
    }
    if stated.strong_pull_up == StrongPullUp::Unsaid {
        add(STRONG_PULL_UP.0, STRONG_PULL_UP.1);
    }
    if known.cable_decides() {
        let why =
            "the length of the cable is not known, and its resistance counts: --plan --cable computes it for a length";
        add("the margin of parasite power, and how many sensors it carries at a time", why);
    }
    for sensor in seen.sensors.iter().filter(|sensor| sensor.seen > 0) {
        let name = sensor.sensor.to_string();
        if let (None, Some(failure)) = (sensor.power, &sensor.failure) {
            add(&format!("how {name} is powered"), failure);
        }
        if sensor.part.is_none() {
            add(&format!("power and reads of {name}"), "it is of a family that is not decoded, and is left alone");
        }
    }
    all
}

/// What is not known of a plan.
pub(super) fn not_known_of_plan(numbers: &Numbers) -> Vec<NotKnown> {
    let (what, why) = STRONG_PULL_UP;
    let is_unsaid = numbers.parasites > 0 && numbers.strong_pull_up == StrongPullUp::Unsaid;
    is_unsaid.then(|| NotKnown { what: what.into(), why: why.into() }).into_iter().collect()
}

/// What is to be minded of a line, though each sensor alone is within its limits. Numbers without a cable, where its length is not known, show
/// at how many it is too much for sure, and not how many are carried.
pub(super) fn remarks(numbers: &Numbers, knows_cable: bool) -> Vec<String> {
    let at_once = ParasiteAdvice::of(numbers).by_strong_pull_up.unwrap_or(u32::MAX);
    let is_too_much = at_once > 0 && numbers.parasites > at_once;
    let how = if at_once > 1 && knows_cable { format!(", or at most {at_once} at a time") } else { String::new() };
    let remark = || {
        format!(
            "convert one by one{how}: {} sensors on parasite power that convert at once, as in a measurement of all, are more than \
             the strong pull-up carries",
            numbers.parasites
        )
    };
    is_too_much.then(remark).into_iter().collect()
}

/// What is wrong beside margins.
pub(super) fn unsound(seen: &LineSeen, stated: &StatedNumbers, known: &KnownNumbers) -> Vec<String> {
    let mut all = Vec::new();
    for sensor in seen.sensors.iter().filter(|sensor| sensor.seen < seen.searches) {
        all.push(format!("{}: found in {} of {} searches", sensor.sensor, sensor.seen, seen.searches));
    }
    if let (1.., Some(failure)) = (seen.searches_failed, &seen.search_failure) {
        all.push(format!("{} of {} searches ended early: {failure}", seen.searches_failed, seen.searches));
    }
    let limit = f64::from(stated.error_limit_ppm) / 1e6;
    if let Some(rate) = seen.error_rate.filter(|rate| rate.least > limit) {
        all.push(format!(
            "reads fail at a rate of at least {} %, over the limit of {}",
            three(rate.least * 100.0),
            percent(stated.error_limit_ppm.into())
        ));
    }
    all.extend(refused(known.parasites(), stated.strong_pull_up, known.levels()));
    all
}
