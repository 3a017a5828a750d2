//! The margins of a line by its numbers, each with its formula.

use slotwise::thermometer::Supply;

use super::circuit::time_constants;
use super::figures::{
    AC, DC, INPUT_UA, LOW_V, PRESENCE_DELAY_US, PRESENCE_WIDTH_US, READ_VALID_US, RECOVERY_US, RESET_HIGH_US, SINK_MA,
    SUPPLY_MV, WORKING_MA, WORKING_V, WRITE_SAMPLE_US,
};
use super::margin::{LineParameter, Margin, MarginBasis};
use super::numbers::{Numbers, StrongPullUp};
use slotwise_terms::units::{ohms, three};

/// All margins that mean something on such a line.
#[must_use]
pub fn computed(numbers: &Numbers) -> Vec<Margin> {
    LineParameter::COMPUTED
        .into_iter()
        .filter(|parameter| applies(*parameter, numbers))
        .map(|parameter| {
            let (formula, source) = text(parameter, numbers);
            let margin = value(parameter, numbers);
            let unit = parameter.unit();
            let formula = match margin {
                Some(margin) => format!("{formula} = {} {}", three(margin), unit.symbol()),
                None => {
                    format!("the line ends at {} V and never gets there", three(numbers.circuit().idle_v()))
                }
            };
            Margin { parameter, basis: MarginBasis::Computed, margin, unit, grain: 0.0, formula, source }
        })
        .collect()
}

/// Whether a limit means something on such a line, and the numbers decide it.
#[must_use]
pub fn applies(parameter: LineParameter, numbers: &Numbers) -> bool {
    match parameter {
        LineParameter::RiseCheck => numbers.times().rise_check_us.is_some(),
        LineParameter::ParasitePower => {
            numbers.power() == Supply::Parasite && numbers.strong_pull_up != StrongPullUp::Unsaid
        }
        LineParameter::PresenceDelay | LineParameter::PresenceWidth => false,
        LineParameter::Supply
        | LineParameter::IdleLevel
        | LineParameter::ReadSample
        | LineParameter::ReadValid
        | LineParameter::WriteOne
        | LineParameter::Recovery
        | LineParameter::Presence
        | LineParameter::ResetHigh
        | LineParameter::LowLevel => true,
    }
}

/// The limits of the supply, in volts.
fn supply_limits_v() -> (f64, f64) {
    let (least_mv, most_mv) = SUPPLY_MV;
    (least_mv as f64 / 1e3, most_mv as f64 / 1e3)
}

/// One margin in its unit. None: the line never gets there, or the numbers do not give it.
#[must_use]
pub fn value(parameter: LineParameter, numbers: &Numbers) -> Option<f64> {
    let (circuit, times) = (numbers.circuit(), numbers.times());
    let to_sensors_us = || circuit.rise_us(numbers.high_v());
    let to_master_us = || circuit.rise_us(numbers.threshold_v);
    let (least_v, most_v) = supply_limits_v();
    Some(match parameter {
        LineParameter::Supply => (numbers.supply_v - least_v).min(most_v - numbers.supply_v),
        LineParameter::IdleLevel => circuit.idle_v() - wanted_v(numbers),
        LineParameter::RiseCheck => times.rise_check_us? - to_master_us()?,
        // It is the master that samples.
        LineParameter::ReadSample => times.sample_us - times.start_low_us - to_master_us()?,
        LineParameter::ReadValid => READ_VALID_US - times.sample_us,
        LineParameter::WriteOne => WRITE_SAMPLE_US - times.start_low_us - to_sensors_us()?,
        LineParameter::Recovery => times.slot_us - times.write_zero_low_us - to_sensors_us()? - numbers.recovery_us,
        LineParameter::Presence => {
            times.reset_high_us - (to_sensors_us()? + PRESENCE_DELAY_US.1 + PRESENCE_WIDTH_US.1 + to_master_us()?)
        }
        LineParameter::ResetHigh => times.next_slot_us - to_sensors_us()?.max(to_master_us()?) - RESET_HIGH_US,
        LineParameter::LowLevel => SINK_MA - sink_ma(numbers),
        LineParameter::ParasitePower => {
            numbers.supply_v - WORKING_MA * 1e-3 * (numbers.working_ohm() + numbers.loop_ohm()) - WORKING_V
        }
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

/// The formula with its numbers, and the source of its limit.
fn text(parameter: LineParameter, numbers: &Numbers) -> (String, String) {
    let (circuit, times) = (numbers.circuit(), numbers.times());
    let from_driver = |rest: &str| format!("{}; {rest}", numbers.timing.source());
    let rise = |volts: f64| rise_text(circuit.time_constant_us(), circuit.idle_v(), volts);
    let (least_v, most_v) = supply_limits_v();
    match parameter {
        LineParameter::Supply => {
            let supply_v = numbers.supply_v;
            let formula = if supply_v - least_v < most_v - supply_v {
                format!("{} V - {} V", three(supply_v), three(least_v))
            } else {
                format!("{} V - {} V", three(most_v), three(supply_v))
            };
            (formula, format!("{DC}, VDD and VPU, 3.0 to 5.5 V"))
        }
        LineParameter::IdleLevel => {
            let beyond = if circuit.drop_v() > circuit.supply_v { ", not below 0 V" } else { "" };
            let formula = format!(
                "[{} V - {} x {} uA x {}{beyond} = {} V] - {} V",
                three(numbers.supply_v),
                numbers.sensors,
                three(INPUT_UA),
                ohms(numbers.pull_up_ohm),
                three(circuit.idle_v()),
                three(wanted_v(numbers))
            );
            (formula, format!("{DC}, input current (typical) and VIH; the master's threshold"))
        }
        LineParameter::RiseCheck => (
            format!("{} us - {}", three(times.rise_check_us.unwrap_or_default()), rise(numbers.threshold_v)),
            from_driver("a slower line it refuses; the master's threshold"),
        ),
        LineParameter::ReadSample => (
            format!("{} us - {} us - {}", three(times.sample_us), three(times.start_low_us), rise(numbers.threshold_v)),
            from_driver("the master's threshold"),
        ),
        LineParameter::ReadValid => (
            format!("{} us - {} us", three(READ_VALID_US), three(times.sample_us)),
            from_driver(&format!("{AC}, tRDV")),
        ),
        LineParameter::WriteOne => (
            format!("{} us - {} us - {}", three(WRITE_SAMPLE_US), three(times.start_low_us), rise(numbers.high_v())),
            from_driver(&format!("DS18B20 datasheet (7/19), Write Time Slots and Figure 16; {DC}, VIH")),
        ),
        LineParameter::Recovery => (
            format!(
                "{} us - {} us - {} - {} us",
                three(times.slot_us),
                three(times.write_zero_low_us),
                rise(numbers.high_v()),
                three(numbers.recovery_us)
            ),
            from_driver(&format!("{DC}, VIH; {}", recovery_source(numbers.recovery_us))),
        ),
        LineParameter::Presence => (
            format!(
                "{} us - ({} + {} us + {} us + {})",
                three(times.reset_high_us),
                rise(numbers.high_v()),
                three(PRESENCE_DELAY_US.1),
                three(PRESENCE_WIDTH_US.1),
                rise(numbers.threshold_v)
            ),
            from_driver(&format!("{AC}, tPDHIGH and tPDLOW")),
        ),
        LineParameter::ResetHigh => (
            format!("{} us - {} - {} us", three(times.next_slot_us), rise(wanted_v(numbers)), three(RESET_HIGH_US)),
            from_driver(&format!("{DC}, VIH; the master's threshold; {AC}, tRSTH")),
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
                "{} V - {} mA x ({} + {}) - {} V",
                three(numbers.supply_v),
                three(WORKING_MA),
                ohms(numbers.working_ohm()),
                ohms(numbers.loop_ohm()),
                three(WORKING_V)
            ),
            format!("{DC}, active current and VPU; one sensor at a time, at the far end of the cable"),
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
