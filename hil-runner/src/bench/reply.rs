//! The replies.

use slotwise::bus::RomCode;
use slotwise::thermometer::{Doubts, Evidence, Settings};

use super::Trouble;

/// What a search found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// ROM codes, in the order of the search.
    pub roms: Vec<RomCode>,
    /// What ended the search early.
    pub trouble: Option<Trouble>,
}

/// A reading, as the driver made it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sample {
    /// The nine bytes of the scratchpad, in wire order.
    pub bytes: [u8; 9],
    /// The driver's temperature, in sixteenths of a degree Celsius.
    pub sixteenths: i16,
    /// The driver's idea of the settings.
    pub settings: Settings,
    /// The driver's doubts.
    pub doubts: Doubts,
    /// What the driver knows of the conversion behind it.
    pub evidence: Evidence,
}

/// A conversion that is over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Converted {
    /// What the driver saw of it.
    pub evidence: Evidence,
    /// How long the slowest sensor was busy. `None` where nobody can see.
    pub busy: Option<Busy>,
}

/// How long a conversion took by the clock of the rig.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Busy {
    /// From the end of Convert T to the look at which all were done.
    pub us: u32,
    /// How much earlier it may have been over: the time between two looks.
    pub grain_us: u32,
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
