//! The bridge's own service on the port, in this process: a request is carried out while it is sent.

use std::rc::Rc;
use std::time::{Duration, Instant};

use slotwise::line::Line;
use slotwise_bridge::message::MasterFault;
use slotwise_bridge::{Endpoint, NoSwitches, TimingChoice};

use super::Traffic;
use super::counted::SharedMeter;
use crate::link::{Carrier, CarrierError};

/// The service, and what it has answered.
pub(super) struct OnThisHost<L> {
    pub(super) endpoint: Endpoint<L, SharedMeter, NoSwitches>,
    pub(super) traffic: Rc<Traffic>,
    pub(super) opened: Instant,
    pub(super) outbox: Vec<u8>,
}

impl<L: Line<Error = MasterFault> + TimingChoice> Carrier for OnThisHost<L> {
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError> {
        for byte in bytes {
            if let Some(frame) = self.endpoint.take(*byte) {
                self.outbox.extend_from_slice(frame);
            }
        }
        // Whatever the service has answered: between host and line something is broken, and this is its name.
        match self.traffic.take_fault() {
            Some(fault) => Err(CarrierError::Lost(fault.to_string())),
            None => Ok(()),
        }
    }

    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError> {
        if self.outbox.is_empty() {
            // The chip sends nothing without a request.
            std::thread::sleep(patience);
        }
        bytes.append(&mut self.outbox);
        Ok(())
    }

    fn now(&self) -> Duration {
        self.opened.elapsed()
    }

    fn wants_life(&self) -> bool {
        false
    }
}
