//! Reasons to leave a step before its end, and when a rig counts as broken.

use slotwise::bus::SearchScope;

use super::executor::Executor;
use crate::bench::{Failure, Trouble};
use crate::record::Breakage;
use crate::scenario::{FailureKind, FaultKind};

/// Why a step ends early.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Halt {
    /// The rig is broken: the run ends.
    Broken(Breakage),
    /// The user wants the run to end.
    Interrupted,
    /// The rig cannot do this step.
    NotPossible(String),
}

/// How often a line that failed as a whole is looked at again before it counts as broken.
const LOOKS: u32 = 2;
/// Time between these looks.
const LOOK_SPACING_US: u64 = 10_000;

impl Executor<'_> {
    /// Leaves the step if the user wants to.
    pub(super) fn go_on(&self) -> Result<(), Halt> {
        if self.stop.is_raised() { Err(Halt::Interrupted) } else { Ok(()) }
    }

    /// Takes trouble as a failure that can be judged, or leaves the step: if the rig is broken, or not able.
    ///
    /// A failure of the whole line is the rig's fault only if the step does not expect it, no fault that the scenario
    /// injected can explain it, and it is still there after a while. A glitch, a failure that was asked for and one that
    /// the scenario provoked are judged like any other.
    pub(super) fn judged(&mut self, trouble: Trouble, expected: &[FailureKind]) -> Result<Failure, Halt> {
        match trouble {
            Trouble::NotPossible { what } => Err(Halt::NotPossible(what)),
            Trouble::Link { text } => Err(Halt::Broken(self.breakage(None, text))),
            Trouble::Failed(failure) => {
                if expected.contains(&failure.kind) || !self.is_lasting(&failure) {
                    return Ok(failure);
                }
                Err(Halt::Broken(self.breakage(Some(failure.kind), failure.text)))
            }
        }
    }

    fn breakage(&self, kind: Option<FailureKind>, text: String) -> Breakage {
        Breakage { step: self.place.clone(), kind, text }
    }

    fn is_lasting(&mut self, failure: &Failure) -> bool {
        if !Trouble::Failed(failure.clone()).condemns_rig() || self.faults.iter().any(|fault| touches_line(*fault)) {
            return false;
        }
        // No switch grows on a rig by waiting.
        if failure.kind == FailureKind::NoStrongPullUp {
            return true;
        }
        (0..LOOKS).all(|_| {
            let waited = self.bench.wait_us(LOOK_SPACING_US);
            let looked = self.bench.search(SearchScope::All).trouble;
            waited.err().or(looked).is_some_and(|trouble| trouble.condemns_rig())
        })
    }
}

/// Whether a fault can make the whole line fail.
const fn touches_line(fault: FaultKind) -> bool {
    match fault {
        FaultKind::Short
        | FaultKind::Open
        | FaultKind::Unplug
        | FaultKind::Noise
        | FaultKind::BrownOut
        | FaultKind::PullUp => true,
        FaultKind::SlowSensor | FaultKind::BitErrors => false,
    }
}

impl std::fmt::Display for Halt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Broken(breakage) => write!(f, "the rig is broken: {}", breakage.text),
            Self::Interrupted => f.write_str("the run was interrupted"),
            Self::NotPossible(what) => write!(f, "not possible on this rig: {what}"),
        }
    }
}
