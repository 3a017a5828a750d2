//! Labels of steps that have none in the file.

use super::{Action, Bound, Convert, Measure, Save};
use slotwise_rig::Rig;
use slotwise_rig::{Fault, FaultKind, Selection};
use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::quantity::shown;
use slotwise_terms::input::words::{and, counted};

/// Most labels in a sentence.
const FEW: usize = 3;

/// What an action does.
pub(super) fn says(rig: &Rig, action: &Action) -> String {
    match action {
        Action::Find { times, expect, fails } => {
            let sought = if fails.is_empty() { names(rig, expect) } else { "sensors, in vain".to_owned() };
            match times {
                1 => format!("find {sought}"),
                times => format!("find {sought}, {times} times"),
            }
        }
        Action::Configure { sensors, resolution, alarm, save, .. } => {
            let mut what = Vec::new();
            what.extend(resolution.map(|resolution| format!("{} bits", resolution.bits())));
            what.extend(alarm.map(|alarm| format!("alarm at {} and {} degC", alarm.low, alarm.high)));
            what.extend(match save {
                Save::No => None,
                Save::IfChanged => Some("saved".to_owned()),
                Save::Unchanged => Some("nothing to save".to_owned()),
            });
            format!("configure {}: {}", names(rig, sensors), what.join(", "))
        }
        Action::Holds { sensors, resolution, alarm } => {
            let mut what = Vec::new();
            what.extend(resolution.map(|resolution| format!("{} bits", resolution.bits())));
            what.extend(alarm.map(|alarm| format!("alarm at {} and {} degC", alarm.low, alarm.high)));
            format!(
                "{} {}: {}",
                names(rig, sensors),
                if sensors.len() == 1 { "holds" } else { "hold" },
                what.join(", ")
            )
        }
        Action::Measure(Measure { sensors, convert, .. }) => {
            let how = match convert {
                Convert::Together => "together",
                Convert::OneByOne => "one by one",
                Convert::Not => "without converting",
            };
            format!("measure {}, {how}", names(rig, sensors))
        }
        Action::FixedPoint(check) => format!("{} at the {}", names(rig, &check.sensors), check.at.description()),
        Action::AlarmSearch { expect } => format!("alarm search: {}", names(rig, expect)),
        Action::PowerCycle { off_ms } => format!("power off for {}", time(*off_ms)),
        Action::Ambient { sensors, to_millicelsius } => {
            let to = shown(Dimension::Temperature, i64::from(*to_millicelsius));
            format!("{to} around {}", names(rig, sensors))
        }
        Action::Inject(fault) => format!("inject {}", injected(rig, fault)),
        Action::Clear(kind) => format!("clear {}", name(*kind)),
        Action::Wait { ms } => format!("wait {}", time(*ms)),
        Action::Repeat { bound, steps, .. } => {
            let bound = match bound {
                Bound::Times(times) => counted(*times as usize, "time"),
                Bound::ForMs(ms) => format!("for {}", time(*ms)),
            };
            format!("repeat {} {bound}", counted(steps.len(), "step"))
        }
    }
}

fn names(rig: &Rig, sensors: &Selection) -> String {
    match sensors.len() {
        0 => "none".to_owned(),
        all if all == rig.inventory.len() => "all".to_owned(),
        few if few <= FEW => {
            let labels: Vec<&str> = sensors.iter().map(|index| rig.inventory[*index].label.as_str()).collect();
            and(&labels)
        }
        many => counted(many, "sensor"),
    }
}

fn time(ms: u64) -> String {
    // A week of milliseconds is far below the limit.
    shown(Dimension::Time, i64::try_from(ms).unwrap_or(i64::MAX / 1_000) * 1_000)
}

fn injected(rig: &Rig, fault: &Fault) -> String {
    let name = name(fault.kind());
    let label = |sensor: &usize| names(rig, &vec![*sensor]);
    match fault {
        Fault::Short { ohm } => format!("{name} of {}", shown(Dimension::Resistance, i64::from(*ohm))),
        Fault::PullUp { ohm } => format!("{name} of {}", shown(Dimension::Resistance, i64::from(*ohm))),
        Fault::Open => format!("{name} behind the master"),
        Fault::Unplug(sensors) => format!("{name}: {}", names(rig, sensors)),
        Fault::Noise { per_second, .. } => format!("{name}: {}", shown(Dimension::Rate, i64::from(*per_second))),
        Fault::BrownOut { to_mv, .. } => format!("{name} to {}", shown(Dimension::Voltage, i64::from(*to_mv))),
        Fault::SlowSensor { sensor, .. } | Fault::BitErrors { sensor, .. } => format!("{name}: {}", label(sensor)),
    }
}

/// What people call a kind of fault.
const fn name(kind: FaultKind) -> &'static str {
    match kind {
        FaultKind::Short => "short",
        FaultKind::Open => "open wire",
        FaultKind::Unplug => "unplugging",
        FaultKind::Noise => "noise",
        FaultKind::BrownOut => "brown-out",
        FaultKind::SlowSensor => "slow sensor",
        FaultKind::PullUp => "pull-up",
        FaultKind::BitErrors => "bit errors",
    }
}
