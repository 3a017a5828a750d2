//! Verdicts on a bath, and on the sensors that were held against its fixed point.

use super::expected::celsius_span;
use slotwise_record::{BathState, FixedPointRecord, FixedPointSensor};
use slotwise_record::{Check, Comparison, Ruling, Subject, Verdict};
use slotwise_rig::Sensor;
use slotwise_scenario::FixedPointCheck;
use slotwise_terms::fixed_point::accuracy_limit;
use slotwise_terms::units::{celsius, count, rig_time, signed_thousandths};

/// Verdict on the bath. `silent` are those who gave no number for as long as it had to be stable.
#[must_use]
pub fn judge_bath(check: &FixedPointCheck, found: &FixedPointRecord, silent: &[Subject], took_ns: u64) -> Verdict {
    let within = check.stable_within_millicelsius;
    let expected = format!(
        "a stable bath: readings of each sensor within {} for {}, no drift beyond a quarter of that",
        celsius_span(within),
        rig_time(check.stable_for_ms.saturating_mul(1_000_000))
    );
    let seen = seen(found);
    let took = rig_time(took_ns);
    let (got, ruling) = match (found.bath, silent) {
        (BathState::Stable, _) => (format!("stable after {took}: {seen}"), Ruling::Met),
        (BathState::NotStable, []) => (format!("not stable after {took}: {seen}"), Ruling::NotMet),
        (BathState::NotStable, silent) => {
            let names: Vec<String> = silent.iter().map(name).collect();
            (format!("given up after {took}: no number to rely on from {}", names.join(", ")), Ruling::NotMet)
        }
    };
    Verdict::new(Check::Stable, expected, "scenario", got, ruling)
}

/// A sensor among others of the same step.
fn name(sensor: &Subject) -> String {
    sensor.label.clone().unwrap_or_else(|| sensor.rom.to_string())
}

/// The largest span and drift of a window, and whose they are.
fn seen(found: &FixedPointRecord) -> String {
    let widest = found.sensors.iter().max_by_key(|sensor| sensor.span_millicelsius);
    let drifting = found.sensors.iter().max_by_key(|sensor| sensor.drift_millicelsius.unsigned_abs());
    let Some((widest, drifting)) = widest.zip(drifting) else {
        return "no two rounds in which every sensor gave a number".into();
    };
    format!(
        "in the last {} the largest span was {} ({}), the largest drift {} ({}), that of the spread {}",
        rig_time(found.window_ns),
        celsius_span(widest.span_millicelsius),
        name(&widest.sensor),
        signed_thousandths(drifting.drift_millicelsius),
        name(&drifting.sensor),
        signed_thousandths(found.spread_drift_millicelsius)
    )
}

/// Verdict on one sensor in a stable bath.
#[must_use]
pub fn judge_at_fixed_point(
    check: &FixedPointCheck,
    found: &FixedPointRecord,
    sensor: &Sensor,
    seen: &FixedPointSensor,
) -> Verdict {
    let point = &found.source;
    let limit = accuracy_limit(sensor.part, found.millicelsius);
    let (within, source) = match (check.within_millicelsius, limit) {
        (Some(within), _) => (within, format!("{point}; scenario")),
        (None, Some(limit)) => (limit.millicelsius, format!("{point}; {}", limit.source)),
        (None, None) => {
            let got = format!("the {} is not made for this temperature", sensor.part.part());
            return Verdict::new(Check::Near, celsius(found.millicelsius), point, got, Ruling::CannotTell)
                .about(seen.sensor.clone());
        }
    };
    let difference_millicelsius = seen.mean_millicelsius - found.millicelsius;
    let later = (seen.readings as usize).div_ceil(2);
    let got = format!("{}, the mean of {}", celsius(seen.mean_millicelsius), count(later, "reading"));
    Verdict {
        comparison: Some(Comparison { reference_millicelsius: found.millicelsius, difference_millicelsius }),
        ..Verdict::new(
            Check::Near,
            format!("{} within {}", celsius(found.millicelsius), celsius_span(within)),
            source,
            got,
            Ruling::met_if(difference_millicelsius.unsigned_abs() <= within),
        )
    }
    .about(seen.sensor.clone())
}
