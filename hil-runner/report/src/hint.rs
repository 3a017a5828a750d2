//! Advice: at most one hint, with numbers, for a run that did not pass. The facts stay true if it is wrong.

use super::opening::{resistance, thousandths};
use slotwise_record::{Breakage, Record, StepData, StepRecord};
use slotwise_record::{Check, Ruling, Verdict};
use slotwise_rig::{Rig, RigKind, TimingSet, VirtualLine};
use slotwise_study::line::figures::{INPUT_UA, USUAL_OHM};
use slotwise_study::line::{LineParameter, Numbers, PullUpAdvice};
use slotwise_terms::FailureKind;
use slotwise_terms::units::{count, ohms, three};

/// Sensors need this much supply (DS18B20 datasheet (7/19), DC table).
const LEAST_SUPPLY_MV: u32 = 3_000;

/// The short-line timing is for lines up to this time constant, as the driver says of it.
const SHORT_LINE_TIME_CONSTANT_US: f64 = 1.8;

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
    // Where there is no pull-up, what one would have to be does not depend on which.
    let numbers = Numbers::of_line(rig, line, line.pull_up_ohm.unwrap_or(USUAL_OHM));
    match (breakage.kind, line.pull_up_ohm) {
        (Some(FailureKind::NoStrongPullUp), _) => no_strong_pull_up(line),
        (Some(FailureKind::StuckLow | FailureKind::NeverIdleHigh), None) => {
            format!("this rig has no pull-up: {}", advice(&numbers))
        }
        (Some(FailureKind::StuckLow | FailureKind::NeverIdleHigh), Some(ohm)) if !is_quick(&numbers) => {
            weak_pull_up(line, ohm, &numbers)
        }
        (Some(FailureKind::NeverIdleHigh), Some(ohm)) => format!(
            "{}, which is quick enough: look for cable or capacitance that the rig file does not state, and for \
             another device that holds the line low",
            time_constant(line, ohm, &numbers)
        ),
        (Some(FailureKind::StuckLow), Some(_)) => {
            "measure the idle line: near 0 V it is shorted to ground, or a sensor is in backwards".into()
        }
        (Some(FailureKind::NoPresence), _) => sensors_off(line, &numbers).unwrap_or_else(|| {
            "the line idles high, so pull-up and supply are there: check the data wire between the pull-up and the first \
             sensor, and ground"
                .into()
        }),
        (Some(_), _) => garbled(line, rig, &numbers),
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
        Some(FailureKind::NoPresence) => {
            "the line idles high, so pull-up and supply are there: check the data wire between the pull-up and the first \
             sensor, and ground"
        }
        Some(FailureKind::MasterTooLate) => {
            "the pull-up is strong enough: the bridge's delay or its calls are slower than configured, or interrupts hold it up; check the \
             chip's clock, and that the firmware is that of this tool"
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

/// Whether the line is up by when the driver looks at it after a reset pulse.
fn is_quick(numbers: &Numbers) -> bool {
    numbers.keeps(LineParameter::RiseCheck)
}

/// What to fit on this line.
fn advice(numbers: &Numbers) -> String {
    let advice = PullUpAdvice::of(numbers);
    let least = ohms(advice.floor_ohm);
    match (advice.use_ohm, advice.ceiling_ohm) {
        (Some(ohm), Some(most_ohm)) => {
            let (ohm, most) = (ohms(ohm.into()), ohms(most_ohm));
            format!("fit {ohm} from the line to the supply (this line takes {least} to {most})")
        }
        (_, most_ohm) => {
            let most = most_ohm.map_or_else(|| "none at all".into(), |ohm| format!("at most {}", ohms(ohm)));
            format!(
                "no resistor does for this line: \"{}\" allows {most}, and the sensors pull low at least {least}; shorten or split the \
                 line",
                advice.ceiling_by.words()
            )
        }
    }
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
fn weak_pull_up(line: &VirtualLine, ohm: u32, numbers: &Numbers) -> String {
    let circuit = numbers.circuit();
    if circuit.rise_us(numbers.threshold_v).is_none() {
        return format!(
            "pull-up too weak for these sensors: {} of them draw {} uA each, which leaves {} V of {} behind {}: {}",
            numbers.sensors,
            three(INPUT_UA),
            three((circuit.idle_v() * 10.0).floor() / 10.0),
            volts(line),
            resistance(ohm),
            advice(numbers)
        );
    }
    format!(
        "pull-up too weak for this cable: {}, and the line must be high {} us after a reset pulse: {}",
        time_constant(line, ohm, numbers),
        three(numbers.times().rise_check_us.unwrap_or_default()),
        advice(numbers)
    )
}

fn time_constant(line: &VirtualLine, ohm: u32, numbers: &Numbers) -> String {
    let circuit = numbers.circuit();
    format!(
        "{} x {:.0} pF ({} m of cable, {}, the master) is a time constant of {:.1} us",
        resistance(ohm),
        circuit.picofarad,
        thousandths(line.cable_mm),
        count(numbers.sensors as usize, "sensor"),
        circuit.time_constant_us()
    )
}

/// Why sensors that are there cannot answer, if so.
fn sensors_off(line: &VirtualLine, numbers: &Numbers) -> Option<String> {
    if line.supply_mv < LEAST_SUPPLY_MV {
        let least = thousandths(LEAST_SUPPLY_MV);
        return Some(format!("the supply is {}, and the sensors need {least} V to run: raise it", volts(line)));
    }
    let least_ohm = PullUpAdvice::of(numbers).floor_ohm;
    line.pull_up_ohm.filter(|ohm| f64::from(*ohm) < least_ohm).map(|ohm| {
        format!(
            "pull-up too strong: at {} a sensor is sure to pull {} low and no less, and this one is {}: {}",
            volts(line),
            ohms(least_ohm),
            resistance(ohm),
            advice(numbers)
        )
    })
}

/// A sensor answers the reset, and no byte comes through.
fn garbled(line: &VirtualLine, rig: &Rig, numbers: &Numbers) -> String {
    if let Some(ohm) = line.pull_up_ohm {
        if !is_quick(numbers) {
            return weak_pull_up(line, ohm, numbers);
        }
        let is_slow = numbers.circuit().time_constant_us() > SHORT_LINE_TIME_CONSTANT_US;
        if rig.timing == TimingSet::ShortLine && is_slow {
            let product = time_constant(line, ohm, numbers);
            return format!("{product}, and the short-line timing is for up to 1.8 us: use timing = \"long line\"");
        }
    }
    sensors_off(line, numbers).unwrap_or_else(|| {
        "another device drives the line, or it is very noisy: look for a second master and for what runs beside the cable, \
         and take the sensors off one by one"
            .into()
    })
}

/// What to look at after a run in which something was not met.
#[must_use]
pub fn failure_hint(record: &Record) -> Option<String> {
    let unsuited = record.rig.timing_cautions(record.rig.inventory.iter().map(|sensor| sensor.rom));
    let has_objections = record.end.capture.as_ref().is_some_and(|capture| !capture.objections.is_empty());
    if let Some(caution) = unsuited.into_iter().next().filter(|_| has_objections) {
        return Some(caution);
    }
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
