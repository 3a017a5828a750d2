//! Steps that take hold of the rig itself: supply, temperature, faults, time.

use super::executor::{Executor, Findings};
use super::halt::Halt;
use slotwise_bench::Pace;
use slotwise_record::StepData;
use slotwise_record::{Event, Progress};
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Fault, FaultKind};

/// A wait is cut into pieces of this length, so that it can be ended between them: the wall's time must be short, the time
/// of a virtual rig passes at once.
const REAL_PIECE_MS: u64 = 100;
const VIRTUAL_PIECE_MS: u64 = 60_000;

impl Executor<'_> {
    /// Trouble with the rig itself is never an expectation that was not met.
    pub(super) fn rig_did(&mut self, did: Result<(), Trouble>) -> Result<(), Halt> {
        match did {
            Ok(()) => Ok(()),
            Err(Trouble::NotPossible { what }) => Err(Halt::NotPossible(what)),
            Err(trouble) => {
                let kind = trouble.kind();
                Err(Halt::Broken(slotwise_record::Breakage {
                    step: self.place.clone(),
                    kind,
                    text: trouble.to_string(),
                }))
            }
        }
    }

    pub(super) fn power_cycle(&mut self, off_ms: u64) -> Result<(), Halt> {
        self.memory.forget();
        let did = self.bench.power_cycle(off_ms);
        self.rig_did(did)
    }

    pub(super) fn ambient(&mut self, sensors: &[usize], to_millicelsius: i32) -> Result<(), Halt> {
        let did = self.bench.set_ambient(sensors, to_millicelsius);
        self.rig_did(did)
    }

    pub(super) fn inject(&mut self, fault: &Fault, findings: &mut Findings) -> Result<(), Halt> {
        let did = self.bench.inject(fault);
        self.rig_did(did)?;
        self.memory.forget();
        findings.data = StepData::FaultInjected { fault: fault.clone() };
        let kind = fault.kind();
        if let Fault::BrownOut { ms, .. } = fault {
            // A dip is over by itself, and the step with it.
            let waited = self.wait(u64::from(*ms));
            let did = self.bench.clear(kind);
            self.rig_did(did)?;
            return waited;
        }
        self.remember(fault);
        Ok(())
    }

    pub(super) fn clear(&mut self, kind: FaultKind, findings: &mut Findings) -> Result<(), Halt> {
        let did = self.bench.clear(kind);
        self.rig_did(did)?;
        self.memory.forget();
        self.forget(kind);
        findings.data = StepData::FaultCleared { fault: kind };
        Ok(())
    }

    pub(super) fn wait(&mut self, ms: u64) -> Result<(), Halt> {
        let mut passed_ms = 0;
        while passed_ms < ms {
            passed_ms += self.piece(ms - passed_ms)?;
            let progress = Progress::RigTime { passed_ms, total_ms: ms };
            self.listener.notice(&Event::Progress { place: &self.place, progress });
        }
        Ok(())
    }

    /// Lets time pass without a word.
    pub(super) fn pass(&mut self, ms: u64) -> Result<(), Halt> {
        let mut passed_ms = 0;
        while passed_ms < ms {
            passed_ms += self.piece(ms - passed_ms)?;
        }
        Ok(())
    }

    /// Waits for a piece of the time that is left, and says how long it was.
    fn piece(&mut self, left_ms: u64) -> Result<u64, Halt> {
        self.go_on()?;
        let piece_ms = match self.bench.pace() {
            Pace::Virtual => VIRTUAL_PIECE_MS,
            Pace::RealTime => REAL_PIECE_MS,
        };
        let now_ms = piece_ms.min(left_ms);
        let did = self.bench.wait_us(now_ms * 1000);
        self.rig_did(did)?;
        Ok(now_ms)
    }
}
