//! How much a scenario asks for: steps one after the other, the rig's time, work, and room in its record.

use super::kept::{Least, MAX_ENTRIES};
use super::keys;
use super::work::{Counter, Work};
use super::{Action, Step};
use slotwise_rig::Fault;
use slotwise_rig::Rig;
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::Table;

/// Most steps that are done in all, repetitions counted.
const MAX_STEPS: u128 = 1_000_000;
/// Most rig time of a whole scenario: a month.
const MAX_WAITED_MS: u128 = 31 * 86_400_000;
/// Most work, in readings of one sensor: minutes on a virtual rig.
const MAX_READINGS: u128 = 2_000_000;

/// Checks that all steps together stay inside what a run may take.
pub(super) fn check(rig: &Rig, top: &Table<'_, '_>, steps: &[Step]) -> Read<()> {
    let mut counter = Counter::new(rig);
    let works: Vec<Work> = steps.iter().map(|step| counter.count(step)).collect();
    let work = works.iter().fold(Work::default(), |sum, step| sum.and(*step));
    let all = || top.entry(&keys::STEP).map_or(top.span(), |entry| entry.value.span());
    // The largest step: the first to shorten.
    let largest = |sizes: &mut dyn Iterator<Item = u128>| {
        let largest = sizes.zip(steps).max_by_key(|(size, _)| *size);
        largest.map_or_else(all, |(_, step)| top.reader().line_span(step.line))
    };
    let complain = |span, report: Report| Err(top.reader().report(span, || report));
    if work.steps > MAX_STEPS {
        let expected = format!("at most {MAX_STEPS} steps, repetitions counted");
        return complain(all(), Report::unexpected(expected, work.steps.to_string()));
    }
    if work.waited_ms > MAX_WAITED_MS {
        let found = format!("{} days", work.waited_ms / 86_400_000);
        return complain(all(), Report::unexpected("waits and repetitions of at most 31 days in all", found));
    }
    if work.readings() > MAX_READINGS {
        let expected = format!("work for at most {MAX_READINGS} readings of one sensor, repetitions counted");
        let report = Report::unexpected(expected, work.readings().to_string())
            .hint("to find or to read a sensor counts as 1, to configure it as 2, and so do 2000 pulses of noise");
        return complain(largest(&mut works.iter().map(|step| step.readings())), report);
    }
    let entries = Least::of(rig, steps).all();
    if entries > MAX_ENTRIES {
        let expected =
            format!("a record of at most {MAX_ENTRIES} entries: a reading, each expectation of it, and so on");
        let report = Report::unexpected(expected, entries.to_string())
            .hint("of repeated steps only some rounds are kept, as many as there is room for");
        let mut sizes = steps.iter().map(|step| u128::from(Least::of_step(rig, step).all()));
        return complain(largest(&mut sizes), report);
    }
    Ok(())
}

/// Whether a step lets the rig's time pass, whatever happens.
pub(super) fn takes_time(step: &Step) -> bool {
    match &step.action {
        Action::Ambient { .. } | Action::Clear(_) => false,
        Action::Inject(fault) => matches!(fault, Fault::BrownOut { .. }),
        Action::Repeat { steps, .. } => steps.iter().any(takes_time),
        Action::Find { .. }
        | Action::Configure { .. }
        | Action::Holds { .. }
        | Action::Measure(_)
        | Action::FixedPoint(_)
        | Action::AlarmSearch { .. }
        | Action::PowerCycle { .. }
        | Action::Wait { .. } => true,
    }
}
