//! What the master did: its transactions, and how its edges lie in the windows.

/// Transactions that are kept until they are read.
pub const TRANSACTIONS_KEPT: usize = 16;

/// From one reset to the next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Transaction {
    /// When the line rose after the reset, in ticks since the player began.
    pub at_ticks: u64,
    /// How long the reset was low, in ticks.
    pub reset_ticks: u32,
    /// ROM command, once it was whole.
    pub rom_command: Option<u8>,
    /// Bits of a ROM code that the master wrote after Match ROM or in a search, and how many.
    pub rom: [u8; 8],
    /// How many bits of `rom` were written.
    pub rom_bits: u8,
    /// Function command, once it was whole.
    pub function: Option<u8>,
    /// Bytes of a Write Scratchpad, and how many.
    pub written: [u8; 3],
    /// How many bytes of `written` were written.
    pub written_bytes: u8,
    /// Mask of the sensors that took part at the end.
    pub addressed: u32,
    /// Slots that the sensors answered.
    pub answered: u16,
    /// Kinds of the faults that were played: [`FaultKind::bit`](crate::FaultKind::bit).
    pub faults: u16,
    /// A command arrived that a sensor on the pin obeys on silicon and not here.
    pub not_played: bool,
}

/// Least and most of a time, in ticks, and how often it was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Spread {
    /// Least.
    pub least: u32,
    /// Most.
    pub most: u32,
    /// How often.
    pub count: u32,
}

impl Default for Spread {
    fn default() -> Self {
        Self::new()
    }
}

impl Spread {
    /// Nothing was measured.
    #[must_use]
    pub const fn new() -> Self {
        Self { least: u32::MAX, most: 0, count: 0 }
    }

    pub(crate) fn note(&mut self, ticks: u32) {
        self.least = self.least.min(ticks);
        self.most = self.most.max(ticks);
        self.count = self.count.saturating_add(1);
    }
}

/// The master's times as the pin sees them: each is too long or too short by up to two samples of the pin, and lows end when the line
/// has risen to the threshold of the input.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Margins {
    /// tRSTL: resets.
    pub reset_low: Spread,
    /// tRSTH: from the end of a reset to the next falling edge.
    pub reset_high: Spread,
    /// tLOW0: lows of slots in which the master wrote 0.
    pub low_0: Spread,
    /// tLOW1: lows of slots in which the master wrote 1.
    pub low_1: Spread,
    /// Lows of read slots that were answered with 1. Of tRDV a slave sees no more: the master's sample shows nowhere.
    pub read_low: Spread,
    /// tREC: from the end of a low to the next falling edge.
    pub recovery: Spread,
    /// tSLOT: from one falling edge to the next.
    pub slot: Spread,
}

/// What the master did, since the report was last read.
#[derive(Clone, Debug)]
pub struct Report {
    ring: [Transaction; TRANSACTIONS_KEPT],
    first: usize,
    kept: usize,
    lost: u32,
    /// The master's times since they were last cleared.
    pub margins: Margins,
    /// Falling edges that were seen late, because the core was talking with the host: the line was low at the first sample afterwards.
    pub late_edges: u32,
}

impl Default for Report {
    fn default() -> Self {
        Self::new()
    }
}

impl Report {
    pub(crate) fn new() -> Self {
        Self {
            ring: [Transaction::default(); TRANSACTIONS_KEPT],
            first: 0,
            kept: 0,
            lost: 0,
            margins: Margins::default(),
            late_edges: 0,
        }
    }

    /// Keeps a transaction; the oldest makes room and is counted as lost.
    pub(crate) fn keep(&mut self, transaction: Transaction) {
        if self.kept == TRANSACTIONS_KEPT {
            self.first = (self.first + 1) % TRANSACTIONS_KEPT;
            self.kept -= 1;
            self.lost = self.lost.saturating_add(1);
        }
        if let Some(place) = self.ring.get_mut((self.first + self.kept) % TRANSACTIONS_KEPT) {
            *place = transaction;
            self.kept += 1;
        }
    }

    /// The oldest transaction that is over, which is removed.
    pub fn take(&mut self) -> Option<Transaction> {
        if self.kept == 0 {
            return None;
        }
        let transaction = self.ring.get(self.first).copied();
        self.first = (self.first + 1) % TRANSACTIONS_KEPT;
        self.kept -= 1;
        transaction
    }

    /// Transactions that were lost since this was last called.
    pub const fn take_lost(&mut self) -> u32 {
        core::mem::replace(&mut self.lost, 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_report_loses_the_oldest_and_counts_them() {
        let mut report = Report::new();
        for at_ticks in 0..20 {
            report.keep(Transaction { at_ticks, ..Transaction::default() });
        }
        assert_eq!(report.take_lost(), 4);
        assert_eq!(report.take_lost(), 0);
        let rest: std::vec::Vec<_> = core::iter::from_fn(|| report.take()).map(|one| one.at_ticks).collect();
        assert_eq!(rest, (4..20).collect::<std::vec::Vec<_>>());
    }
}
