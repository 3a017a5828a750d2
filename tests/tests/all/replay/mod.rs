//! A line that replays a transcript: the bytes a real line carried, played to the real driver.
//!
//! The master must write what was written then; where a sensor answered, it gets that answer. Whatever the driver does
//! differently is an error of the line, so a replay that is not followed cannot pass.

use slotwise::line::{Line, LineError, Presence};
use slotwise_golden::{Traffic, Transaction};

/// One slot of a transcript.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Slot {
    /// Written by the master.
    Master(bool),
    /// Answered by a sensor in a read slot.
    Sensor(bool),
}

/// The driver left the transcript.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deviation {
    /// A reset where the transcript has none left.
    NoSuchReset,
    /// A slot beyond the end of the transaction.
    NoSuchSlot { transaction: usize },
    /// Another bit than was written then.
    Wrote { transaction: usize, slot: usize, bit: bool },
}

/// A replay of some transactions.
pub struct ReplayLine {
    transactions: Vec<Vec<Slot>>,
    /// Transaction under way, counted from 1; 0 before the first.
    transaction: usize,
    slot: usize,
    /// Slots of finished transactions that the driver had no use for.
    pub left_out: Vec<usize>,
}

fn bits(bytes: &[u8]) -> impl Iterator<Item = bool> {
    bytes.iter().flat_map(|byte| (0..8).map(move |position| byte >> position & 1 == 1))
}

fn slots(transaction: &Transaction) -> Vec<Slot> {
    let mut slots = Vec::new();
    for traffic in &transaction.traffic {
        match traffic {
            Traffic::Written(bytes) => slots.extend(bits(&bytes.0).map(Slot::Master)),
            Traffic::Answered(bytes) => slots.extend(bits(&bytes.0).map(Slot::Sensor)),
            Traffic::Search(pass) => slots.extend(pass.slots.triplets().flat_map(|[bit, complement, choice]| {
                [Slot::Sensor(bit), Slot::Sensor(complement), Slot::Master(choice)]
            })),
        }
    }
    slots
}

impl ReplayLine {
    pub fn of<'a>(transactions: impl IntoIterator<Item = &'a Transaction>) -> Self {
        let transactions = transactions.into_iter().map(slots).collect();
        Self { transactions, transaction: 0, slot: 0, left_out: Vec::new() }
    }

    /// Ends the replay: the slots left out of each transaction. All transactions must have been played.
    pub fn finish(mut self) -> Vec<usize> {
        assert_eq!(self.transaction, self.transactions.len(), "transactions that were never played");
        self.close();
        self.left_out
    }

    fn close(&mut self) {
        if let Some(index) = self.transaction.checked_sub(1) {
            self.left_out.push(self.transactions[index].len() - self.slot);
        }
    }
}

impl Line for ReplayLine {
    type Error = Deviation;

    fn reset(&mut self) -> Result<Presence, LineError<Deviation>> {
        if self.transaction == self.transactions.len() {
            return Err(LineError::Master(Deviation::NoSuchReset));
        }
        self.close();
        self.transaction += 1;
        self.slot = 0;
        Ok(Presence::Present)
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Deviation>> {
        let transaction = self.transaction;
        let index = transaction.checked_sub(1).ok_or(LineError::Master(Deviation::NoSuchSlot { transaction }))?;
        let slot = self.slot;
        let recorded = self.transactions[index].get(slot);
        self.slot += 1;
        match recorded {
            Some(Slot::Master(written)) if *written == bit => Ok(bit),
            Some(Slot::Sensor(answer)) if bit => Ok(*answer),
            Some(_) => Err(LineError::Master(Deviation::Wrote { transaction, slot, bit })),
            None => Err(LineError::Master(Deviation::NoSuchSlot { transaction })),
        }
    }

    fn delay_us(&mut self, _us: u32) {}

    fn slot_us(&self) -> u32 {
        // Slots of the captured master are 65 to 69 us apart.
        67
    }
}
