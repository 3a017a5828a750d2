//! The replies.

use slotwise::bus::RomCode;

use slotwise_rig::reply::Trouble;

/// The sensors that a search found, and what ended it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SearchOutcome {
    /// ROM codes, in the order of the search.
    pub roms: Vec<RomCode>,
    /// What ended the search early.
    pub trouble: Option<Trouble>,
}

/// How the time of a rig goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// As fast as this machine computes.
    Virtual,
    /// As the clock on the wall.
    RealTime,
}

/// How much of a run a waveform shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// All of it.
    Whole,
    /// Its end: the memory for the beginning was needed.
    End,
}
