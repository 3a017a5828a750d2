//! The emulated chip behind a bench: shared by whoever carries frames and whoever lays hands on the line.

use std::cell::Cell;
use std::rc::Rc;
use std::sync::{Arc, Mutex, PoisonError};

use slotwise::thermometer::Family;
use slotwise_emulated_mcu::{EmulatedChips, PinAction, PinEvent};

use crate::virtual_line::OnLine;
use slotwise_limits::Limits;
use slotwise_limits::edges::{Edge, EdgeJudge};
use slotwise_limits::edges::{EdgeClock, EdgeRecord};

/// The chip that is the master, those beside it, the sensors on their line, and the judge of its edges.
#[derive(Clone)]
pub(super) struct Chip {
    pub(super) mcu: Rc<EmulatedChips<OnLine>>,
    /// When the bench was ready, by the chip's time: flashing is over by then.
    pub(super) ready_ns: Rc<Cell<u64>>,
    /// The chip's time when it was last known: a chip that has stopped reports none.
    last_ns: Rc<Cell<u64>>,
    judge: Watching,
}

/// The judge, where the thread of the chip finds it.
#[derive(Clone)]
pub(super) struct Watching(Arc<Mutex<Option<EdgeJudge>>>);

impl Watching {
    /// By the limits of these parts.
    pub(super) fn new(parts: &[Family]) -> Self {
        Self(Arc::new(Mutex::new(Some(EdgeJudge::new(Limits::for_families(parts))))))
    }

    /// Takes note of what the pins do.
    pub(super) fn sink(&self) -> Box<dyn FnMut(PinEvent) + Send> {
        let judge = Arc::clone(&self.0);
        Box::new(move |PinEvent { at_ns, what }| {
            let edge = match what {
                PinAction::DriveLow => Edge::DriveLow,
                PinAction::Release => Edge::Release,
                PinAction::Sample(_) => Edge::Look,
                PinAction::StrongOn => Edge::StrongOn,
                PinAction::StrongOff => Edge::StrongOff,
                PinAction::SupplyOn | PinAction::SupplyOff | PinAction::ShortOn | PinAction::ShortOff => return,
            };
            if let Some(judge) = judge.lock().unwrap_or_else(PoisonError::into_inner).as_mut() {
                judge.feed(at_ns, edge);
            }
        })
    }
}

impl Chip {
    pub(super) fn new(mcu: EmulatedChips<OnLine>, judge: Watching) -> Self {
        Self { mcu: Rc::new(mcu), ready_ns: Rc::new(Cell::new(0)), last_ns: Rc::new(Cell::new(0)), judge }
    }

    /// Time since the bench was ready.
    pub(super) fn now_ns(&self) -> u64 {
        if let Ok(now_ns) = self.mcu.now_ns() {
            self.last_ns.set(now_ns);
        }
        self.last_ns.get().saturating_sub(self.ready_ns.get())
    }

    /// What was seen of the edges; once.
    pub(super) fn take_edges(&self) -> Option<EdgeRecord> {
        let judge = self.judge.0.lock().unwrap_or_else(PoisonError::into_inner).take()?;
        Some(EdgeRecord::new(EdgeClock::EmulatedChip, judge.finish()))
    }
}
