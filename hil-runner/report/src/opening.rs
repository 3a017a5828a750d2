//! The lines before the first step: tool, rig, scenario, seed, cautions.

use super::TextLook;
use super::look::CAUTION;
use super::look::Ink;
use slotwise_record::Start;
use slotwise_record::Tool;
use slotwise_rig::{Rig, RigCarrier, RigKind, TimingSet, VirtualLine};
use slotwise_terms::units::{celsius, count};

/// Lines that open a report.
pub(super) fn tell(look: &TextLook, start: &Start<'_>, again: Option<&str>) -> Vec<String> {
    let tool = Tool::this();
    let driver = &start.driver;
    let title = format!("{} {}, driver {} {}", tool.name, tool.version, driver.name, driver.version);
    let scenario = start.scenario;
    let steps = count(scenario.steps.len(), "step");
    let mut lines = vec![
        Ink::Strong.on(title),
        rig_line(look, start.rig),
        look.wrap("scenario  ", &format!("{}, from {}: {steps}", scenario.name, scenario.source)),
        seed_line(look, start.seed),
    ];
    // A real line does as it likes, whatever the seed.
    if let (Some(again), Some(_)) = (again, start.rig.virtual_line()) {
        lines.push(again_line(again));
    }
    if !matches!(start.rig.kind, RigKind::Virtual(_)) && start.bridge.core_hz > 0 {
        let bridge = &start.bridge;
        let text =
            format!("{}, firmware {}, core clock {} MHz", bridge.chip, bridge.firmware, bridge.core_hz / 1_000_000);
        lines.insert(2, look.wrap("bridge    ", &text));
    }
    let of_timing = start.rig.timing_cautions(start.rig.inventory.iter().map(|sensor| sensor.rom));
    let cautions = scenario.cautions.iter().chain(&of_timing);
    lines.extend(cautions.map(|caution| Ink::Odd.on(look.wrap("caution   ", caution))));
    lines.push(String::new());
    lines
}

/// Lines that open what was measured without a scenario: the rig, its seed where that matters, and the caution.
#[must_use]
pub fn rig_lines(look: &TextLook, rig: &Rig, seed: u64, again: &str) -> Vec<String> {
    let mut lines = vec![rig_line(look, rig)];
    if rig.virtual_line().is_some() {
        lines.push(seed_line(look, seed));
        lines.push(again_line(again));
    }
    lines.push(caution_line(look));
    lines
}

/// The caution above whatever may be taken for more than it is.
#[must_use]
pub fn caution_line(look: &TextLook) -> String {
    look.wrap("caution   ", CAUTION)
}

fn rig_line(look: &TextLook, rig: &Rig) -> String {
    look.wrap("rig       ", &describe(rig))
}

fn seed_line(look: &TextLook, seed: u64) -> String {
    look.wrap("seed      ", &seed.to_string())
}

/// One line however long it is, so that the command can be copied.
fn again_line(command: &str) -> String {
    format!("again     {command}")
}

/// A rig in one line.
pub fn describe(rig: &Rig) -> String {
    let timing = match rig.timing {
        TimingSet::ShortLine => "short-line timing",
        TimingSet::LongLine => "long-line timing",
    };
    let sensors = count(rig.inventory.len(), "sensor");
    match &rig.kind {
        RigKind::Virtual(line) => format!("{}: {sensors} on a virtual line, {}, {timing}", rig.name, electrical(line)),
        RigKind::Emulated(line) => {
            format!("{}: {sensors} on a virtual line behind an emulated chip, {}, {timing}", rig.name, electrical(line))
        }
        RigKind::Bridge(bridge) => {
            let by = match &bridge.carrier {
                RigCarrier::Memory { .. } => "its debug probe",
                RigCarrier::Serial { port } => port,
            };
            format!("{}: {sensors} on a bridge, {} reached by {by}, {timing}", rig.name, bridge.chip)
        }
        RigKind::Serial(serial) => {
            let pull_up = serial
                .strong_pull_up
                .map_or("no strong pull-up".into(), |line| format!("strong pull-up switched by {}", line.word()));
            format!("{}: {sensors} on the serial adapter {}, {pull_up}", rig.name, serial.port)
        }
    }
}

fn electrical(line: &VirtualLine) -> String {
    let pull_up = line.pull_up_ohm.map_or("no pull-up".into(), |ohm| format!("pull-up {}", resistance(ohm)));
    format!(
        "{} V, {pull_up}, {} m of cable, ambient {}",
        thousandths(line.supply_mv),
        thousandths(line.cable_mm),
        celsius(line.ambient_millicelsius)
    )
}

/// `4.7 kohm`, `680 ohm`.
pub(super) fn resistance(ohm: u32) -> String {
    if ohm >= 1000 { format!("{} kohm", thousandths(ohm)) } else { format!("{ohm} ohm") }
}

/// A thousandth of a number, with as many places as it needs.
pub(super) fn thousandths(value: u32) -> String {
    let text = format!("{}.{:03}", value / 1000, value % 1000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
