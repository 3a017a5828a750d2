//! Counts of what goes through the port, and its first fault.

use std::cell::{Cell, RefCell};

use super::fault::AdapterFault;
use slotwise_rig::reply::PortRecord;

/// Shared between the port, the line on it and the bench that reports it.
#[derive(Debug, Default)]
pub(crate) struct Traffic {
    bytes: Cell<u64>,
    round_trips: Cell<u64>,
    /// Why the port is of no use any more.
    fault: RefCell<Option<AdapterFault>>,
    presence_unchecked: RefCell<Option<String>>,
}

impl Traffic {
    pub(super) fn sent(&self, bytes: usize) {
        self.bytes.set(self.bytes.get() + bytes as u64);
    }

    pub(super) fn round_trip(&self) {
        self.round_trips.set(self.round_trips.get() + 1);
    }

    /// Notes what went wrong. What went wrong first is what the rest follows from.
    pub(super) fn note(&self, fault: AdapterFault) {
        self.fault.borrow_mut().get_or_insert(fault);
    }

    pub(super) fn take_fault(&self) -> Option<AdapterFault> {
        self.fault.borrow_mut().take()
    }

    /// Notes what a search through this port cannot see.
    pub(super) fn note_unchecked(&self, what: String) {
        *self.presence_unchecked.borrow_mut() = Some(what);
    }

    /// So far.
    pub(crate) fn record(&self) -> PortRecord {
        PortRecord {
            bytes: self.bytes.get(),
            round_trips: self.round_trips.get(),
            presence_unchecked: self.presence_unchecked.borrow().clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_search_cannot_see_is_in_the_record() {
        let traffic = Traffic::default();
        assert_eq!(traffic.record().presence_unchecked, None);
        traffic.note_unchecked(slotwise::line::PresenceUnchecked.to_string());
        assert!(traffic.record().presence_unchecked.is_some_and(|what| what.contains("7200")));
    }
}
