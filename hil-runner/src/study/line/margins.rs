//! The margins of a line by its numbers, each with its formula.

use slotwise::thermometer::Supply;

use super::circuit::time_constants;
use super::figures::{
    AC, DC, INPUT_UA, LOW_V, PRESENCE_DELAY_US, PRESENCE_WIDTH_US, READ_VALID_US, RECOVERY_US, SINK_MA, WORKING_MA,
    WORKING_V, WRITE_SAMPLE_US,
};
use super::margin::{Basis, LineParameter, Margin};
use super::numbers::Numbers;
use crate::record::units::{ohms, three};

const DRIVER: &str = "the driver's timing set";

/// Nanoseconds of a timing set in microseconds.
pub(super) fn us(ns: u32) -> f64 {
    f64::from(ns) / 1e3
}

/// All margins that numbers tell. That of parasite power only where it is used.
#[must_use]
pub fn computed(numbers: &Numbers) -> Vec<Margin> {
    let asked = LineParameter::COMPUTED
        .into_iter()
        .filter(|parameter| *parameter != LineParameter::ParasitePower || numbers.power == Supply::Parasite);
    asked
        .map(|parameter| {
            let (formula, source) = text(parameter, numbers);
            let margin = value(parameter, numbers);
            let unit = parameter.unit();
            let formula = match margin {
                Some(margin) => format!("{formula} = {} {}", three(margin), unit.symbol()),
                None => {
                    format!("the line ends at {} V and never gets there", three(numbers.circuit().idle_v().max(0.0)))
                }
            };
            Margin { parameter, basis: Basis::Computed, margin, unit, grain: 0.0, formula, source }
        })
        .collect()
}

/// One margin in its unit. None: the line never gets there, or numbers do not tell it.
#[must_use]
pub fn value(parameter: LineParameter, numbers: &Numbers) -> Option<f64> {
    let (circuit, timing) = (numbers.circuit(), numbers.driver_timing());
    let to_sensors_us = || circuit.rise_us(numbers.high_v());
    let to_master_us = || circuit.rise_us(numbers.threshold_v);
    Some(match parameter {
        LineParameter::IdleLevel => circuit.idle_v() - wanted_v(numbers),
        LineParameter::RiseCheck => us(timing.rise_check_ns) - to_master_us()?,
        LineParameter::ReadSample => us(timing.sample_ns) - us(timing.start_low_ns) - to_sensors_us()?,
        LineParameter::ReadValid => READ_VALID_US - us(timing.sample_ns),
        LineParameter::WriteOne => WRITE_SAMPLE_US - us(timing.start_low_ns) - to_sensors_us()?,
        LineParameter::Recovery => {
            us(timing.slot_ns) - us(timing.write_zero_low_ns) - to_sensors_us()? - numbers.recovery_us
        }
        LineParameter::Presence => {
            us(timing.reset_high_ns) - (to_sensors_us()? + PRESENCE_DELAY_US.1 + PRESENCE_WIDTH_US.1 + to_master_us()?)
        }
        LineParameter::LowLevel => SINK_MA - sink_ma(numbers),
        LineParameter::ParasitePower => numbers.supply_v - WORKING_MA * 1e-3 * numbers.working_ohm() - WORKING_V,
        LineParameter::PresenceDelay | LineParameter::PresenceWidth => return None,
    })
}

/// What sensors and master take for high.
fn wanted_v(numbers: &Numbers) -> f64 {
    numbers.high_v().max(numbers.threshold_v)
}

fn sink_ma(numbers: &Numbers) -> f64 {
    (numbers.supply_v - LOW_V) / numbers.pull_up_ohm * 1e3
}

/// The formula with its numbers, and where its limit stands.
fn text(parameter: LineParameter, numbers: &Numbers) -> (String, String) {
    let (circuit, timing) = (numbers.circuit(), numbers.driver_timing());
    let from_driver = |rest: &str| format!("{DRIVER}; {rest}");
    let rise = |volts: f64| rise_text(circuit.time_constant_us(), circuit.idle_v(), volts);
    match parameter {
        LineParameter::IdleLevel => (
            format!(
                "{} V - {} x {} uA x {} - {} V",
                three(numbers.supply_v),
                numbers.sensors,
                three(INPUT_UA),
                ohms(numbers.pull_up_ohm),
                three(wanted_v(numbers))
            ),
            format!("{DC}, input current (typical) and VIH; the master's threshold"),
        ),
        LineParameter::RiseCheck => (
            format!("{} us - {}", three(us(timing.rise_check_ns)), rise(numbers.threshold_v)),
            from_driver("a slower line it refuses; the master's threshold"),
        ),
        LineParameter::ReadSample => (
            format!(
                "{} us - {} us - {}",
                three(us(timing.sample_ns)),
                three(us(timing.start_low_ns)),
                rise(numbers.high_v())
            ),
            from_driver(&format!("{DC}, VIH")),
        ),
        LineParameter::ReadValid => (
            format!("{} us - {} us", three(READ_VALID_US), three(us(timing.sample_ns))),
            from_driver(&format!("{AC}, tRDV")),
        ),
        LineParameter::WriteOne => (
            format!(
                "{} us - {} us - {}",
                three(WRITE_SAMPLE_US),
                three(us(timing.start_low_ns)),
                rise(numbers.high_v())
            ),
            from_driver(&format!("DS18B20 datasheet (7/19), Write Time Slots and Figure 16; {DC}, VIH")),
        ),
        LineParameter::Recovery => (
            format!(
                "{} us - {} us - {} - {} us",
                three(us(timing.slot_ns)),
                three(us(timing.write_zero_low_ns)),
                rise(numbers.high_v()),
                three(numbers.recovery_us)
            ),
            from_driver(&format!("{DC}, VIH; {}", recovery_source(numbers.recovery_us))),
        ),
        LineParameter::Presence => (
            format!(
                "{} us - ({} + {} us + {} us + {})",
                three(us(timing.reset_high_ns)),
                rise(numbers.high_v()),
                three(PRESENCE_DELAY_US.1),
                three(PRESENCE_WIDTH_US.1),
                rise(numbers.threshold_v)
            ),
            from_driver(&format!("{AC}, tPDHIGH and tPDLOW")),
        ),
        LineParameter::LowLevel => (
            format!(
                "{} mA - ({} V - {} V) / {}",
                three(SINK_MA),
                three(numbers.supply_v),
                three(LOW_V),
                ohms(numbers.pull_up_ohm)
            ),
            format!("{DC}, IL at 0.4 V"),
        ),
        LineParameter::ParasitePower => (
            format!(
                "{} V - {} mA x {} - {} V",
                three(numbers.supply_v),
                three(WORKING_MA),
                ohms(numbers.working_ohm()),
                three(WORKING_V)
            ),
            format!("{DC}, active current and VPU; one sensor at a time"),
        ),
        LineParameter::PresenceDelay | LineParameter::PresenceWidth => (String::new(), String::new()),
    }
}

fn recovery_source(us: f64) -> String {
    if us > RECOVERY_US { "DS28EA00 datasheet, electrical table, tREC".into() } else { format!("{AC}, tREC") }
}

/// A rise, with its numbers.
pub(super) fn rise_text(time_constant_us: f64, idle_v: f64, volts: f64) -> String {
    let formula =
        format!("{} us x ln({idle} / ({idle} - {}))", three(time_constant_us), three(volts), idle = three(idle_v));
    match time_constants(idle_v, volts) {
        Some(number) => format!("[{formula} = {} us]", three(number * time_constant_us)),
        None => formula,
    }
}
