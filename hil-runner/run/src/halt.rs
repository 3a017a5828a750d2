//! Reasons to leave a step before its end, and when a rig counts as broken.

use slotwise::bus::RomCode;

use super::dead_line::{concerns_line, is_dead_but_for};
use super::executor::Executor;
use super::explain::Injected;
use slotwise_record::Breakage;
use slotwise_rig::reply::{Failure, Trouble};
use slotwise_terms::FailureKind;

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

impl Executor<'_> {
    /// Leaves the step if the user wants to. Between two operations on the line: what is recorded of it is judged before it is lost.
    pub(super) fn go_on(&mut self) -> Result<(), Halt> {
        self.judge_before_loss();
        if self.stop.is_raised() { Err(Halt::Interrupted) } else { Ok(()) }
    }

    /// Takes trouble as a failure that can be judged, or leaves the step: if the rig is broken, or not able.
    ///
    /// A failure of the whole line is the rig's fault if it is still there after a while and no fault that the scenario
    /// injected can explain it. A glitch and a failure that the scenario provoked are judged like any other. So is one that
    /// the step expects of the rig as it is; what it expects while faults are there, it expects of them.
    pub(super) fn judged(&mut self, trouble: Trouble, expected: &[FailureKind]) -> Result<Failure, Halt> {
        let may_be_dead = concerns_line(&trouble);
        self.sorted(trouble, expected, may_be_dead)
    }

    /// The same for a search for all sensors, which found these. If it found none, its failure is one of the line, whatever
    /// its kind.
    pub(super) fn judged_search(
        &mut self,
        trouble: Trouble,
        expected: &[FailureKind],
        found: &[RomCode],
    ) -> Result<Failure, Halt> {
        self.sorted(trouble, expected, found.is_empty())
    }

    fn sorted(&mut self, trouble: Trouble, expected: &[FailureKind], may_be_dead: bool) -> Result<Failure, Halt> {
        match trouble {
            Trouble::NotPossible { what } => Err(Halt::NotPossible(what)),
            Trouble::Cancelled => Err(Halt::Interrupted),
            Trouble::Link { text } => Err(Halt::Broken(self.breakage(None, text))),
            Trouble::Failed(failure) if may_be_dead && !self.is_asked_for(failure.kind, expected) => {
                if self.is_lasting(failure.kind) {
                    return Err(Halt::Broken(self.breakage(Some(failure.kind), failure.text)));
                }
                Ok(failure)
            }
            Trouble::Failed(failure) => Ok(failure),
        }
    }

    /// Whether a step expects this failure of the rig as it is. No fault takes a strong pull-up away.
    fn is_asked_for(&self, kind: FailureKind, expected: &[FailureKind]) -> bool {
        expected.contains(&kind) && (self.faults.is_empty() || kind == FailureKind::NoStrongPullUp)
    }

    fn breakage(&self, kind: Option<FailureKind>, text: String) -> Breakage {
        Breakage { step: self.place.clone(), kind, text }
    }

    /// Whether it is still there after a while, and not because of a fault that was injected.
    fn is_lasting(&mut self, kind: FailureKind) -> bool {
        let faults = Injected { rig: self.rig, faults: &self.faults };
        if faults.explain(kind) {
            return false;
        }
        // No switch grows on a rig by waiting.
        kind == FailureKind::NoStrongPullUp
            || is_dead_but_for(self.bench, |trouble| trouble.kind().is_some_and(|kind| faults.explain(kind)))
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
