//! Whether a line is dead: repeated searches fail without finding a sensor.

use slotwise::bus::SearchScope;

use slotwise_bench::{Bench, SearchOutcome};
use slotwise_rig::reply::Trouble;
use slotwise_terms::FailureKind;

/// How many searches a line must fail, after the first failure, to count as broken.
const SEARCHES: u32 = 3;
/// Time between these searches. All of them take longer than any conversion: a sensor on parasite power that converts without the strong
/// pull-up holds the line low for so long, and then the line is sound again.
const SEARCH_SPACING_US: u64 = 400_000;

/// Whether a failure may be one of the whole line, so that further searches are due.
pub(super) const fn concerns_line(trouble: &Trouble) -> bool {
    match trouble {
        Trouble::Failed(failure) => {
            trouble.condemns_rig() || matches!(failure.kind, FailureKind::Disturbed | FailureKind::SearchLost)
        }
        Trouble::Link { .. } => true,
        Trouble::Cancelled | Trouble::NotPossible { .. } => false,
    }
}

/// The trouble of a search that failed before it found a sensor.
pub(super) fn hopeless(found: &SearchOutcome) -> Option<Trouble> {
    let trouble = found.trouble.as_ref().filter(|trouble| !matches!(trouble, Trouble::NotPossible { .. }));
    trouble.filter(|_| found.roms.is_empty()).cloned()
}

/// Searches the line again after a pause. Returns the trouble if the search fails without finding a sensor.
fn search_again(bench: &mut dyn Bench) -> Option<Trouble> {
    match bench.wait_us(SEARCH_SPACING_US) {
        Ok(()) => hopeless(&bench.search(SearchScope::All)),
        Err(trouble) => Some(trouble),
    }
}

/// Whether every further search finds no sensor and fails for reasons other than these.
pub(super) fn is_dead_but_for(bench: &mut dyn Bench, mut is_explained: impl FnMut(&Trouble) -> bool) -> bool {
    (0..SEARCHES).all(|_| search_again(bench).is_some_and(|trouble| !is_explained(&trouble)))
}

/// Whether every further search finds no sensor and fails.
pub(super) fn is_dead(bench: &mut dyn Bench) -> bool {
    is_dead_but_for(bench, |_| false)
}

/// Whether a failure of one request is one of the whole line: at once if it condemns the rig, else if the line stays dead.
pub fn is_of_line(bench: &mut dyn Bench, trouble: &Trouble) -> bool {
    trouble.condemns_rig() || concerns_line(trouble) && is_dead(bench)
}

/// The same where failures of the line are what is measured: whatever failed, a line that goes on is not lost.
pub fn is_lost(bench: &mut dyn Bench, trouble: &Trouble) -> bool {
    matches!(trouble, Trouble::Link { .. }) || concerns_line(trouble) && is_dead(bench)
}
