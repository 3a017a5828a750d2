//! Advice: at most one hint, with numbers, for a run that did not pass. The facts stay true if it is wrong.

use super::opening::{resistance, thousandths};
use crate::judge::{Check, Verdict};
use crate::record::{Breakage, Record};
use crate::rig::{Rig, RigKind, VirtualLine};
use crate::scenario::FailureKind;

/// Input current of a sensor on a high line, typically (DS18B20 datasheet (7/19), DC table).
const SENSOR_UA: u64 = 5;
/// Input capacitance of a sensor, at most (DS18B20 datasheet (7/19), AC table).
const SENSOR_PF: u64 = 25;

/// What to look at on a rig that is broken.
#[must_use]
pub fn breakage_hint(breakage: &Breakage, rig: &Rig) -> String {
    let RigKind::Virtual(line) = &rig.kind;
    match breakage.kind {
        Some(FailureKind::NeverIdleHigh) => slow_line(line, rig.inventory.len()),
        Some(FailureKind::StuckLow) => low_line(line, rig.inventory.len()),
        Some(FailureKind::Nobody) => {
            "the line idles high, so pull-up and supply are there: check the data wire between the pull-up and the \
             first sensor, and ground"
                .into()
        }
        Some(FailureKind::NoStrongPullUp) => {
            "each parasite-powered sensor draws up to 1.5 mA while it converts, and 4.7 kohm carry 0.7 mA at 3.3 V: \
             fit a switch from line to supply as strong pull-up, or give the sensors a supply wire"
                .into()
        }
        _ => "check the connection between this computer and the line".into(),
    }
}

/// A line that is never high is shorted, or its pull-up cannot even carry what the sensors draw.
fn low_line(line: &VirtualLine, sensors: usize) -> String {
    let Some(ohm) = line.pull_up_ohm else {
        return "this rig has no pull-up: fit 4.7 kohm from the line to the supply".into();
    };
    // ohm x uA = uV.
    let drop_mv = u64::from(ohm) * SENSOR_UA * sensors as u64 / 1000;
    let idle_mv = u64::from(line.supply_mv).saturating_sub(drop_mv);
    // VIH of a typical input: 70 % of the supply.
    if idle_mv * 10 < u64::from(line.supply_mv) * 7 {
        return format!(
            "pull-up too weak for these sensors: {sensors} of them draw {SENSOR_UA} uA each, which leaves {}.{} V of {} V \
             behind {}: fit 4.7 kohm (good for about 35 m of cable at 3.3 V) or 2.2 kohm",
            idle_mv / 1000,
            idle_mv % 1000 / 100,
            thousandths(line.supply_mv),
            resistance(ohm)
        );
    }
    "measure the idle line: near 0 V it is shorted to ground, or a sensor is in backwards".into()
}

/// The line has to be back high before the earliest presence pulse, 15 us after the reset pulse.
fn slow_line(line: &VirtualLine, sensors: usize) -> String {
    let picofarad = u64::from(line.cable_mm) * u64::from(line.cable_pf_per_m) / 1000 + SENSOR_PF * sensors as u64;
    let ohm = u64::from(line.pull_up_ohm.unwrap_or(0));
    // kohm x pF = ns.
    let tenths_of_us = ohm * picofarad / 100_000;
    format!(
        "pull-up too weak for this cable: {} x {picofarad} pF ({} m of cable, {sensors} sensors) is a time constant of \
         {}.{} us, and the line must be high 13 us after a reset pulse: fit 4.7 kohm (good for about 35 m at 3.3 V) or \
         2.2 kohm, or shorten the cable",
        line.pull_up_ohm.map_or("no pull-up".into(), resistance),
        thousandths(line.cable_mm),
        tenths_of_us / 10,
        tenths_of_us % 10
    )
}

/// What to look at after a run in which something was not met.
#[must_use]
pub fn failure_hint(record: &Record) -> Option<String> {
    let against: Vec<&Verdict> =
        record.steps.iter().flat_map(|step| &step.verdicts).filter(|verdict| !verdict.is_met()).collect();
    let first = |check| against.iter().find(|verdict| verdict.check == check);
    if let Some(missing) = first(Check::Presence).filter(|verdict| verdict.got.contains("not found")) {
        let who = missing.sensor.as_ref().map_or("the sensor".into(), ToString::to_string);
        return Some(format!("others answer on the same line, so look at the plug and the lead of {who}"));
    }
    if first(Check::Supply).is_some() {
        return Some("a sensor on parasite power that should have its own supply has lost its supply wire".into());
    }
    if let Some(late) = first(Check::InTime).or(first(Check::Conversion)) {
        return Some(match late.sensor {
            Some(_) => "a sensor that converts too slowly may be a look-alike part, or run below 3.0 V".into(),
            None => "convert one by one to see which sensor is too slow".into(),
        });
    }
    first(Check::Doubts).filter(|verdict| verdict.got.contains("power-on")).map(|_| {
        "a sensor that shows its power-on value after a conversion lost its supply meanwhile: check supply wire and \
         strong pull-up"
            .into()
    })
}
