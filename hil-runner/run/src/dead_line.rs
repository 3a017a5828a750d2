//! Whether a line is dead: nobody can say anything about any sensor on it, however often somebody looks.

use slotwise::bus::SearchScope;

use slotwise_bench::{Bench, Found};
use slotwise_rig::reply::Trouble;
use slotwise_terms::FailureKind;

/// How often a line that failed as a whole is looked at again before it counts as broken.
const LOOKS: u32 = 3;
/// Time between these looks. All of them take longer than any conversion: a sensor on parasite power that converts without the strong
/// pull-up holds the line low for so long, and then the line is sound again.
const LOOK_SPACING_US: u64 = 400_000;

/// Whether a failure may be one of the whole line, so that a closer look is due.
pub(super) const fn concerns_line(trouble: &Trouble) -> bool {
    match trouble {
        Trouble::Failed(failure) => {
            trouble.condemns_rig() || matches!(failure.kind, FailureKind::Disturbed | FailureKind::SearchLost)
        }
        Trouble::Link { .. } => true,
        Trouble::Cancelled | Trouble::NotPossible { .. } => false,
    }
}

/// Why a search says nothing about anybody, if so: it failed before it found anybody.
pub(super) fn hopeless(found: &Found) -> Option<Trouble> {
    let trouble = found.trouble.as_ref().filter(|trouble| !matches!(trouble, Trouble::NotPossible { .. }));
    trouble.filter(|_| found.roms.is_empty()).cloned()
}

/// Looks at the line again after a while: why nobody can be found on it.
fn look(bench: &mut dyn Bench) -> Option<Trouble> {
    match bench.wait_us(LOOK_SPACING_US) {
        Ok(()) => hopeless(&bench.search(SearchScope::All)),
        Err(trouble) => Some(trouble),
    }
}

/// Whether every further look at the line finds no sensor and fails, for other reasons than these.
pub(super) fn is_dead_but_for(bench: &mut dyn Bench, mut is_explained: impl FnMut(&Trouble) -> bool) -> bool {
    (0..LOOKS).all(|_| look(bench).is_some_and(|trouble| !is_explained(&trouble)))
}

/// Whether every further look at the line finds no sensor and fails.
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
