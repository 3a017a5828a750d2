//! Whether a scenario can fail: one that expects nothing proves nothing.

use super::keys;
use super::{Action, Step};
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::Table;

/// Checks that something is expected somewhere.
pub(super) fn check(top: &Table<'_, '_>, steps: &[Step]) -> Read<()> {
    if steps.iter().any(expects) {
        return Ok(());
    }
    let span = top.entry(&keys::STEP).map_or(top.span(), |entry| entry.value.span());
    Err(top.reader().report(span, || {
        Report::unexpected(
            "a step that expects something: find, configure, holds, measure, fixed_point or alarm_search",
            "none",
        )
        .hint("a run that cannot fail proves nothing")
    }))
}

fn expects(step: &Step) -> bool {
    match &step.action {
        Action::Find { .. }
        | Action::Configure { .. }
        | Action::Holds { .. }
        | Action::Measure(_)
        | Action::FixedPoint(_)
        | Action::AlarmSearch { .. } => true,
        Action::Repeat { steps, .. } => steps.iter().any(expects),
        Action::PowerCycle { .. }
        | Action::Ambient { .. }
        | Action::Inject(_)
        | Action::Clear(_)
        | Action::Wait { .. } => false,
    }
}
