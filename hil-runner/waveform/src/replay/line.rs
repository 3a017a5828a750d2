//! The line that answers as a captured one did.

use slotwise::line::{Line, LineError, Presence};

use crate::decode::{Bytes, Phase, Transaction};

/// One slot, or many that are alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Slot {
    /// Written by the master.
    Master(bool),
    /// Answered by a sensor in a read slot.
    Sensor(bool),
    /// Read slots that poll a state: so many zeros, and ones from then on.
    Polled { zeros: u64 },
    /// Ones without end.
    Ones,
}

/// What a transaction was.
#[derive(Clone, Debug)]
struct Recorded {
    presence: Presence,
    slots: Vec<Slot>,
}

/// The driver did something else than the captured master.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Deviation {
    /// A reset where the capture has none left.
    #[error("a reset where the capture has none left")]
    NoSuchReset,
    /// A slot beyond the end of the transaction.
    #[error("a slot beyond the end of transaction {transaction}")]
    NoSuchSlot {
        /// Counted from 1; 0 before the first.
        transaction: usize,
    },
    /// Another bit than was written then.
    #[error("bit {bit} in slot {slot} of transaction {transaction}, where the captured master wrote the other", bit = u8::from(*bit))]
    Wrote {
        /// Counted from 1.
        transaction: usize,
        /// Counted from 0.
        slot: usize,
        /// What the driver wrote.
        bit: bool,
    },
}

/// A line that answers as a captured one did. The driver must write what the captured master wrote; where a sensor answered, it gets
/// that answer. Whatever it does differently is an error of the line, so a replay that is not followed cannot pass.
///
/// ```
/// use slotwise_waveform::{Chosen, analyse, replay::ReplayLine};
/// use slotwise::{bus::Bus, thermometer::{Evidence, Thermometer}};
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # let vcd = "$timescale 1 us $end $var wire 1 ! line $end $enddefinitions $end #0 1! #9 0! #509 1! #1100";
/// let mut transactions = Vec::new();
/// let chosen = Chosen::of(vcd.as_bytes(), 0)?;
/// analyse(chosen.open(vcd.as_bytes())?, chosen, &mut |transaction| transactions.push(transaction.clone()));
/// let mut bus = Bus::new(ReplayLine::of(&transactions));
/// assert!(bus.reset().is_err(), "no presence pulse follows this reset");
/// # Ok(()) }
/// ```
#[derive(Clone, Debug)]
pub struct ReplayLine {
    transactions: Vec<Recorded>,
    /// Transaction under way, counted from 1; 0 before the first.
    transaction: usize,
    slot: usize,
    /// Polls of the state under way so far.
    polls: u64,
}

impl ReplayLine {
    /// A line that replays these transactions, in their order.
    #[must_use]
    pub fn of<'a>(transactions: impl IntoIterator<Item = &'a Transaction>) -> Self {
        let transactions = transactions.into_iter().map(recorded).collect();
        Self { transactions, transaction: 0, slot: 0, polls: 0 }
    }

    /// How many transactions were never begun.
    #[must_use]
    pub const fn left(&self) -> usize {
        self.transactions.len() - self.transaction
    }
}

fn recorded(transaction: &Transaction) -> Recorded {
    let mut slots = Vec::new();
    let bits = |bytes: &[u8], by: fn(bool) -> Slot| -> Vec<Slot> {
        bytes.iter().flat_map(|byte| (0..8).map(move |place| byte >> place & 1 == 1)).map(by).collect()
    };
    for phase in &transaction.phases {
        match phase {
            Phase::RomCommand { code, .. } | Phase::Function { code, .. } => slots.extend(bits(&[*code], Slot::Master)),
            Phase::RomWritten { bytes: Bytes(bytes) } | Phase::Written { bytes: Bytes(bytes), .. } => {
                slots.extend(bits(bytes, Slot::Master));
            }
            Phase::RomAnswered { bytes: Bytes(bytes) } | Phase::Answered { bytes: Bytes(bytes), .. } => {
                slots.extend(bits(bytes, Slot::Sensor));
            }
            Phase::Search { triplets, .. } => {
                for triplet in triplets {
                    slots.extend([Slot::Sensor(triplet.bit), Slot::Sensor(triplet.complement)]);
                    slots.extend(triplet.written.map(Slot::Master));
                }
            }
            Phase::Polled { zeros, ones, .. } => {
                slots.push(Slot::Polled { zeros: if *ones == 0 { u64::MAX } else { *zeros } });
            }
            Phase::ReadOn { .. } => slots.push(Slot::Ones),
            // Whether master or device sent these bits is not known, so they are not played.
            Phase::Foreign { .. } => {}
        }
    }
    let presence = if transaction.reset.presence.is_some() { Presence::Present } else { Presence::Absent };
    Recorded { presence, slots }
}

impl Line for ReplayLine {
    type Error = Deviation;

    fn reset(&mut self) -> Result<Presence, LineError<Deviation>> {
        let recorded = self.transactions.get(self.transaction).ok_or(LineError::Master(Deviation::NoSuchReset))?;
        self.transaction += 1;
        (self.slot, self.polls) = (0, 0);
        Ok(recorded.presence)
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Deviation>> {
        let (transaction, slot) = (self.transaction, self.slot);
        let beyond = LineError::Master(Deviation::NoSuchSlot { transaction });
        let wrong = Err(LineError::Master(Deviation::Wrote { transaction, slot, bit }));
        let recorded = transaction.checked_sub(1).and_then(|place| self.transactions.get(place)).ok_or(beyond)?;
        match recorded.slots.get(slot).copied().ok_or(beyond)? {
            Slot::Master(written) if written == bit => {
                self.slot += 1;
                Ok(bit)
            }
            Slot::Sensor(answer) if bit => {
                self.slot += 1;
                Ok(answer)
            }
            Slot::Ones if bit => Ok(true),
            Slot::Polled { zeros } if bit => {
                self.polls = self.polls.saturating_add(1);
                Ok(self.polls > zeros)
            }
            _ => wrong,
        }
    }

    fn delay_us(&mut self, _us: u32) {}

    fn slot_us(&self) -> u32 {
        // The shortest slot with its recovery (DS18B20 datasheet (7/19), AC table): polling must not count time that has not passed.
        61
    }
}
