//! Advice: at most one hint, with numbers, for a run that did not pass. The facts stay true if it is wrong.

use super::opening::{resistance, thousandths};
use super::pull_up::{PullUps, SENSOR_UA};
use crate::judge::{Check, Ruling, Verdict};
use crate::record::units::count;
use crate::record::{Breakage, Record, StepData, StepRecord};
use crate::rig::{Rig, RigKind, TimingSet, VirtualLine};
use crate::scenario::FailureKind;

/// Sensors need this much supply (DS18B20 datasheet (7/19), DC table).
const LEAST_SUPPLY_MV: u32 = 3_000;

/// The recommended timing is for lines up to this time constant, as the driver says of it.
const RECOMMENDED_TIME_CONSTANT_NS: u64 = 1_800;

/// What to look at on a rig that is broken.
#[must_use]
pub fn breakage_hint(breakage: &Breakage, rig: &Rig) -> String {
    let Some(line) = rig.virtual_line() else {
        return match &rig.kind {
            RigKind::Serial(_) => hint_for_serial_adapter(breakage.kind),
            _ => hint_for_real_line(breakage.kind),
        }
        .into();
    };
    let pull_ups = PullUps::of(rig, line);
    match (breakage.kind, line.pull_up_ohm) {
        (Some(FailureKind::NoStrongPullUp), _) => no_strong_pull_up(line),
        (Some(FailureKind::StuckLow | FailureKind::NeverIdleHigh), None) => {
            format!("this rig has no pull-up: {}", advice(&pull_ups))
        }
        (Some(FailureKind::StuckLow | FailureKind::NeverIdleHigh), Some(ohm)) if !pull_ups.is_quick_with(ohm.into()) => {
            weak_pull_up(line, ohm, &pull_ups, rig.inventory.len())
        }
        (Some(FailureKind::NeverIdleHigh), Some(ohm)) => format!(
            "{}, which is quick enough: look for cable or capacitance that the rig file does not tell of, and for somebody \
             else who holds the line low",
            time_constant(line, ohm, &pull_ups, rig.inventory.len())
        ),
        (Some(FailureKind::StuckLow), Some(_)) => {
            "measure the idle line: near 0 V it is shorted to ground, or a sensor is in backwards".into()
        }
        (Some(FailureKind::Nobody), _) => sensors_off(line, &pull_ups).unwrap_or_else(|| {
            "the line idles high, so pull-up and supply are there: check the data wire between the pull-up and the first \
             sensor, and ground"
                .into()
        }),
        (Some(_), _) => garbled(line, rig, &pull_ups),
        (None, _) => "check the connection between this computer and the line".into(),
    }
}

/// What to look at on a line of which no file says what it is made of.
const fn hint_for_real_line(kind: Option<FailureKind>) -> &'static str {
    match kind {
        Some(FailureKind::NoStrongPullUp) => {
            "each parasite-powered sensor draws up to 1.5 mA while it converts: wire the bridge's switch as strong pull-up and say \
             strong_pull_up = true in the rig file, or give the sensors a supply wire"
        }
        Some(FailureKind::StuckLow) => {
            "measure the idle line: near 0 V it is shorted to ground, has no supply or no pull-up, or a sensor is in backwards; \
             in between, the pull-up is too weak for so many sensors"
        }
        Some(FailureKind::NeverIdleHigh) => {
            "pull-up too weak for this cable: fit a stronger one (4.7 kohm is usual, 2.2 kohm or less on long lines), or say \
             timing = \"long line\" in the rig file"
        }
        Some(FailureKind::Nobody) => {
            "the line idles high, so pull-up and supply are there: check the data wire between the pull-up and the first \
             sensor, and ground"
        }
        Some(_) => "look at the line with a logic analyser: what comes back is damaged",
        None => {
            "check the cable between this computer and the debug probe or port, the power of the chip, and that the firmware on it \
             is that of this tool"
        }
    }
}

/// The same on a line whose bus master is a serial adapter.
const fn hint_for_serial_adapter(kind: Option<FailureKind>) -> &'static str {
    match kind {
        Some(FailureKind::NoStrongPullUp) => {
            "each parasite-powered sensor draws up to 1.5 mA while it converts: give the sensors a supply wire, or fit a strong pull-up \
             with a gate that keeps it open while TX is low, and name its modem line in the rig file as strong_pull_up"
        }
        Some(FailureKind::NeverIdleHigh | FailureKind::Disturbed) => {
            "the line must rise within 4 us of the release: fit a stronger pull-up (4.7 kohm is usual, 2.2 kohm or less on long lines), \
             or shorten the cable"
        }
        None => {
            "check the adapter's own cable; that TX pulls the line low through its diode or open-drain buffer; that RX is joined to the \
             line; and that the pull-up has its supply"
        }
        Some(_) => hint_for_real_line(kind),
    }
}

/// What to fit on this line.
fn advice(pull_ups: &PullUps) -> String {
    let most = ohms(pull_ups.most_ohm());
    let least = ohms(pull_ups.least_ohm());
    match pull_ups.advised_ohm() {
        Some(ohm) => format!("fit {} from the line to the supply (this line takes {least} to {most})", ohms(ohm)),
        None => format!(
            "no resistor does for this line: it takes at most {most} to get high in time, and the sensors pull low at least \
             {least}; shorten or split the line"
        ),
    }
}

/// `2.08 kohm`, rounded down: three digits are more than these figures are worth.
fn ohms(ohm: u64) -> String {
    let step = match ohm {
        ..1_000 => 1,
        1_000..10_000 => 10,
        _ => 100,
    };
    u32::try_from(ohm / step * step).map_or_else(|_| "more than 4 Gohm".into(), resistance)
}

/// `3.3 V`
fn volts(line: &VirtualLine) -> String {
    format!("{} V", thousandths(line.supply_mv))
}

fn no_strong_pull_up(line: &VirtualLine) -> String {
    let carries = line.pull_up_ohm.map_or(String::new(), |ohm| {
        // Supply of a sensor at least 3.0 V (DS18B20 datasheet (7/19), DC table). mV x 1000 / ohm = uA.
        let ua = u64::from(line.supply_mv.saturating_sub(3000)) * 1000 / u64::from(ohm.max(1));
        let (whole, hundredths) = (ua / 1000, ua % 1000 / 10);
        format!(
            ", and behind {} at {} the line falls below 3.0 V at {whole}.{hundredths:02} mA",
            resistance(ohm),
            volts(line)
        )
    });
    format!(
        "each parasite-powered sensor draws up to 1.5 mA while it converts{carries}: fit a switch from line to supply as \
         strong pull-up, or give the sensors a supply wire"
    )
}

/// A pull-up that cannot carry what the sensors draw, or brings the line up too late.
fn weak_pull_up(line: &VirtualLine, ohm: u32, pull_ups: &PullUps, sensors: usize) -> String {
    if pull_ups.is_overloaded_by(ohm.into()) {
        let left_mv = pull_ups.idle_mv(ohm.into());
        return format!(
            "pull-up too weak for these sensors: {sensors} of them draw {SENSOR_UA} uA each, which leaves {}.{} V of {} \
             behind {}: {}",
            left_mv / 1000,
            left_mv % 1000 / 100,
            volts(line),
            resistance(ohm),
            advice(pull_ups)
        );
    }
    format!(
        "pull-up too weak for this cable: {}, and the line must be high {} us after a reset pulse: {}",
        time_constant(line, ohm, pull_ups, sensors),
        thousandths(pull_ups.rise_ns),
        advice(pull_ups)
    )
}

fn time_constant(line: &VirtualLine, ohm: u32, pull_ups: &PullUps, sensors: usize) -> String {
    let picofarad = pull_ups.picofarad;
    // ohm x pF = 10^-6 us.
    let tenths_of_us = u64::from(ohm) * picofarad / 100_000;
    format!(
        "{} x {picofarad} pF ({} m of cable, {}) is a time constant of {}.{} us",
        resistance(ohm),
        thousandths(line.cable_mm),
        count(sensors, "sensor"),
        tenths_of_us / 10,
        tenths_of_us % 10
    )
}

/// Why sensors that are there cannot answer, if so.
fn sensors_off(line: &VirtualLine, pull_ups: &PullUps) -> Option<String> {
    if line.supply_mv < LEAST_SUPPLY_MV {
        let least = thousandths(LEAST_SUPPLY_MV);
        return Some(format!("the supply is {}, and the sensors need {least} V to run: raise it", volts(line)));
    }
    let least_ohm = pull_ups.least_ohm();
    line.pull_up_ohm.filter(|ohm| u64::from(*ohm) < least_ohm).map(|ohm| {
        format!(
            "pull-up too strong: at {} a sensor is sure to pull {} low and no less, and this one is {}: {}",
            volts(line),
            ohms(least_ohm),
            resistance(ohm),
            advice(pull_ups)
        )
    })
}

/// Somebody is there, and nothing that is said comes through.
fn garbled(line: &VirtualLine, rig: &Rig, pull_ups: &PullUps) -> String {
    let sensors = rig.inventory.len();
    if let Some(ohm) = line.pull_up_ohm {
        if !pull_ups.is_quick_with(ohm.into()) {
            return weak_pull_up(line, ohm, pull_ups, sensors);
        }
        // ohm x pF / 1000 = ns.
        let is_slow = u64::from(ohm) * pull_ups.picofarad / 1000 > RECOMMENDED_TIME_CONSTANT_NS;
        if rig.timing == TimingSet::Recommended && is_slow {
            let product = time_constant(line, ohm, pull_ups, sensors);
            return format!("{product}, and the recommended timing is for up to 1.8 us: use timing = \"long line\"");
        }
    }
    sensors_off(line, pull_ups).unwrap_or_else(|| {
        "somebody else drives the line, or it is very noisy: look for a second master and for what runs beside the cable, \
         and take the sensors off one by one"
            .into()
    })
}

/// What to look at after a run in which something was not met.
#[must_use]
pub fn failure_hint(record: &Record) -> Option<String> {
    let against: Vec<&Verdict> =
        record.steps.iter().flat_map(|step| &step.verdicts).filter(|verdict| !verdict.is_met()).collect();
    if let Some(missing) = record.steps.iter().find_map(missing_among_others) {
        let who = missing.sensor.as_ref().map_or("the sensor".into(), ToString::to_string);
        return Some(format!("others answer on the same line, so look at the plug and the lead of {who}"));
    }
    let first = |check| against.iter().find(|verdict| verdict.check == check && verdict.ruling == Ruling::NotMet);
    if first(Check::Supply).is_some_and(|verdict| verdict.is_wrong()) {
        return Some("a sensor on parasite power that should have its own supply has lost its supply wire".into());
    }
    if let Some(late) = first(Check::InTime).or(first(Check::Conversion).filter(|verdict| is_still_busy(verdict))) {
        return Some(match late.sensor {
            Some(_) => "a sensor that converts too slowly may be a look-alike part, or run below 3.0 V".into(),
            None => "convert one by one to see which sensor is too slow".into(),
        });
    }
    if first(Check::Stable).is_some() {
        // Common practice.
        return Some(
            "stir the bath gently all the time; in ice, see that there is some down to the bottom, and in steam, that it boils \
             hard; a sensor that alone is unsteady may have a bad lead"
                .into(),
        );
    }
    first(Check::Doubts).filter(|verdict| verdict.got.contains("power-on")).map(|_| {
        "a sensor that shows its power-on value after a conversion lost its supply meanwhile, or really is at 85 degC: \
         measured one by one it is proven which; check supply wire and strong pull-up"
            .into()
    })
}

/// A sensor that was never found in a step that found others.
fn missing_among_others(step: &StepRecord) -> Option<&Verdict> {
    let StepData::Search { found, .. } = &step.data else { return None };
    let missing =
        |verdict: &&Verdict| verdict.check == Check::Presence && !verdict.is_met() && verdict.got.contains("not found");
    step.verdicts.iter().find(missing).filter(|_| !found.is_empty())
}

/// Whether a conversion did not come to its end, rather than not to its beginning.
fn is_still_busy(verdict: &Verdict) -> bool {
    verdict.got.starts_with("still converting")
}
