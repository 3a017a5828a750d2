//! Whether a line is dead: nobody can say anything about any sensor on it, however often somebody looks.

use slotwise::bus::SearchScope;

use slotwise_bench::{Bench, Found};
use slotwise_rig::reply::Trouble;
use slotwise_terms::FailureKind;

/// How often a line that failed as a whole is looked at again before it counts as broken.
pub(super) const LOOKS: u32 = 3;
/// Time between these looks. All of them take longer than any conversion: a sensor on parasite power that converts without the strong
/// pull-up holds the line low for so long, and then the line is sound again.
const LOOK_SPACING_US: u64 = 400_000;

/// Whether a failure may be one of the whole line, so that a closer look is due.
pub const fn concerns_line(trouble: &Trouble) -> bool {
    match trouble {
        Trouble::Failed(failure) => {
            trouble.condemns_rig() || matches!(failure.kind, FailureKind::Disturbed | FailureKind::SearchLost)
        }
        Trouble::Link { .. } => true,
        Trouble::Cancelled | Trouble::NotPossible { .. } => false,
    }
}

/// Why a search says nothing about anybody, if so: it failed before it found anybody.
pub fn hopeless(found: Found) -> Option<Trouble> {
    found.trouble.filter(|trouble| found.roms.is_empty() && !matches!(trouble, Trouble::NotPossible { .. }))
}

/// Looks at the line again after a while: why nobody can be found on it.
pub(super) fn look(bench: &mut dyn Bench) -> Option<Trouble> {
    match bench.wait_us(LOOK_SPACING_US) {
        Ok(()) => hopeless(bench.search(SearchScope::All)),
        Err(trouble) => Some(trouble),
    }
}

/// Whether every further look at the line finds nobody and fails.
pub fn is_dead(bench: &mut dyn Bench) -> bool {
    (0..LOOKS).all(|_| look(bench).is_some())
}
