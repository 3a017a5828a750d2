//! Faults to inject and to clear.

use super::selection::{Least, read_selection, read_sensor};
use super::{Action, Step, keys};
use slotwise_rig::Rig;
use slotwise_rig::{Fault, FaultKind};
use slotwise_terms::input::form::Key;
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::Table;
use slotwise_terms::input::words::{and, or};

/// Reads what one key of `inject` holds.
type ReadFault = fn(rig: &Rig, inject: &Table<'_, '_>) -> Read<Fault>;

/// The kinds of fault in the order of [`keys::CLEAR`].
pub(super) const KINDS: [FaultKind; 8] = [
    FaultKind::Short,
    FaultKind::Open,
    FaultKind::Unplug,
    FaultKind::Noise,
    FaultKind::BrownOut,
    FaultKind::SlowSensor,
    FaultKind::PullUp,
    FaultKind::BitErrors,
];

/// The keys of `inject` and how each is read.
const FAULTS: [(&Key, ReadFault); 8] = [
    (&keys::SHORT, |_, inject| Ok(Fault::Short { ohm: inject.quantity(&keys::SHORT)? })),
    (&keys::OPEN, |_, inject| inject.word(&keys::OPEN).map(|_| Fault::Open)),
    (&keys::UNPLUG, |rig, inject| read_selection(rig, inject, &keys::UNPLUG, Least::One).map(Fault::Unplug)),
    (&keys::NOISE, |_, inject| {
        let table = inject.required_table(&keys::NOISE)?;
        let (per_second, width_us) = (table.quantity(&keys::NOISE_RATE), table.quantity(&keys::WIDTH)?);
        Ok(Fault::Noise { per_second: per_second?, width_us })
    }),
    (&keys::BROWN_OUT, |rig, inject| read_brown_out(rig, &inject.required_table(&keys::BROWN_OUT)?)),
    (&keys::SLOW_SENSOR, |rig, inject| {
        let table = inject.required_table(&keys::SLOW_SENSOR)?;
        let (sensor, permille) = (read_sensor(rig, &table, &keys::ONE_SENSOR), table.quantity(&keys::SLOW_CONVERSION)?);
        Ok(Fault::SlowSensor { sensor: sensor?, permille })
    }),
    (&keys::PULL_UP, |_, inject| Ok(Fault::PullUp { ohm: inject.quantity(&keys::PULL_UP)? })),
    (&keys::BIT_ERRORS, |rig, inject| {
        let table = inject.required_table(&keys::BIT_ERRORS)?;
        let (sensor, ppm) = (read_sensor(rig, &table, &keys::ONE_SENSOR), table.quantity(&keys::ERROR_RATE)?);
        Ok(Fault::BitErrors { sensor: sensor?, ppm })
    }),
];

/// Reads a fault to inject.
pub(super) fn read(rig: &Rig, inject: &Table<'_, '_>) -> Read<Fault> {
    let present: Vec<_> =
        FAULTS.iter().filter_map(|(key, read)| inject.entry(key).map(|entry| (*key, *read, entry))).collect();
    match present.as_slice() {
        [(_, read, _)] => read(rig, inject),
        [] if inject.has_unknown() => Err(inject.reader().already_reported()),
        [] => Err(inject.reader().report(inject.span(), || {
            Report::unexpected(format!("one fault to inject: {}", or(&FAULTS.map(|(key, _)| key.name))), "none")
        })),
        [(first, _, at), (second, _, and_at), ..] => Err(inject.reader().report(and_at.key_span.clone(), || {
            Report::contradiction("one fault in a step", and(&[first.name, second.name]), "one fault too many")
                .also(at.key_span.clone(), "another fault")
        })),
    }
}

fn read_brown_out(rig: &Rig, table: &Table<'_, '_>) -> Read<Fault> {
    let (to_mv, ms) = (table.quantity(&keys::DIP_TO), table.quantity(&keys::DIP_LASTS));
    let (to_mv, ms) = (to_mv?, ms?);
    // The supply of a real line is not known here, and no switch makes it dip.
    let Some(line) = rig.virtual_line() else { return Ok(Fault::BrownOut { to_mv, ms }) };
    if to_mv < line.supply_mv {
        return Ok(Fault::BrownOut { to_mv, ms });
    }
    let span = table.entry(&keys::DIP_TO).map_or(table.span(), |entry| entry.value.span());
    Err(table.reader().report(span, || {
        let rule = format!("a dip below the supply of the rig, {} mV", line.supply_mv);
        Report::contradiction(rule, format!("{to_mv} mV"), "no dip at all")
    }))
}

/// Checks that each kind of fault that is cleared is also injected.
pub(super) fn check_cleared(top: &Table<'_, '_>, steps: &[Step]) -> Read<()> {
    let mut injected = Vec::new();
    let mut cleared = Vec::new();
    collect(steps, &mut injected, &mut cleared);
    let mut checked = Ok(());
    for (kind, line) in cleared {
        if !injected.contains(&kind) {
            let name = KINDS.iter().position(|known| *known == kind).map_or("", |index| words()[index]);
            checked = Err(top.reader().report(top.reader().line_span(line), || {
                Report::contradiction(
                    format!("a step that injects {name}, for this one to clear"),
                    "none in the file",
                    "nothing to clear",
                )
            }));
        }
    }
    checked
}

fn words() -> &'static [&'static str] {
    match keys::CLEAR.form {
        slotwise_terms::input::form::Form::Word(words) => words,
        _ => unreachable!("clear is a word"),
    }
}

fn collect(steps: &[Step], injected: &mut Vec<FaultKind>, cleared: &mut Vec<(FaultKind, usize)>) {
    for step in steps {
        match &step.action {
            Action::Inject(fault) => injected.push(fault.kind()),
            Action::Clear(kind) => cleared.push((*kind, step.line)),
            Action::Repeat { steps, .. } => collect(steps, injected, cleared),
            _ => {}
        }
    }
}
