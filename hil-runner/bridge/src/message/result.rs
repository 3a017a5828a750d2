//! What the bridge answers.

use serde::{Deserialize, Serialize};
use slotwise::Error;
use slotwise::bus::RomCode;
use slotwise::thermometer::{Doubts, Evidence, Receipt, Round, RoundOver, Saved, Settings, Started, Supply};

use super::LineReport;

/// Most ROM codes in one page of a search (chosen: eight passes take about 0.1 s of line time, and fill 64 bytes).
pub const PAGE: usize = 8;

/// A reply: the answer, and how the line was meanwhile.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reply {
    /// The answer.
    pub answer: Answer,
    /// The line.
    pub line: LineReport,
}

/// The answer to the request of the same name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Answer {
    /// A page of a search.
    Search(Page),
    /// Whether the sensor is there.
    IsPresent(Result<bool, Error<MasterFault>>),
    /// The power mode.
    Supply(Result<Supply, Error<MasterFault>>),
    /// The nine bytes.
    Scratchpad(Result<[u8; 9], Error<MasterFault>>),
    /// The reading.
    Read(Result<Sample, ReadFailure>),
    /// Written.
    Write(Result<(), Error<MasterFault>>),
    /// Saved.
    Save(Result<Saved, Error<MasterFault>>),
    /// The settings that were recalled.
    Recall(Result<Settings, Error<MasterFault>>),
    /// The conversion.
    Convert(Result<Converted, Error<MasterFault>>),
    /// The reading, with the mark of the proof in its bytes and settings.
    Prove(Result<Sample, Error<MasterFault>>),
    /// The timing set is in use.
    SetTiming,
    /// The switch is there.
    Throw(Result<(), SwitchFault>),
    /// See the line's report.
    Look,
    /// It is known.
    WirePullUp,
    /// The sensor was seen busy, in this round.
    Start(Result<(Round, Started), Error<MasterFault>>),
    /// The longest conversion time is over.
    FinishRound(Result<RoundOver, Error<MasterFault>>),
}

/// Pins or port of the bus master failed. What the chip knows more of it is in its log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MasterFault;

impl embedded_hal::digital::Error for MasterFault {
    fn kind(&self) -> embedded_hal::digital::ErrorKind {
        embedded_hal::digital::ErrorKind::Other
    }
}

/// A scratchpad that could not be read, or that holds no temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadFailure {
    /// The driver's error.
    pub error: Error<MasterFault>,
    /// The nine bytes, if they arrived with a right CRC.
    pub bytes: Option<[u8; 9]>,
}

impl<T: Into<Error<MasterFault>>> From<T> for ReadFailure {
    fn from(error: T) -> Self {
        Self { error: error.into(), bytes: None }
    }
}

/// Some of the ROM codes on a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Page {
    /// The codes, in the order of the search.
    pub roms: heapless::Vec<RomCode, PAGE>,
    /// What follows.
    pub end: Result<Ending, Error<MasterFault>>,
}

/// How a page of a search ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Ending {
    /// There are more.
    More,
    /// These were the last.
    Last,
}

/// A reading, as the driver made it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Converted {
    /// What the driver saw of it, for [`Request::Read`](super::Request::Read).
    pub receipt: Receipt,
    /// How long the slowest sensor reported busy. `None` where it cannot be polled.
    pub busy: Option<Busy>,
}

/// How long a conversion took by the bridge's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Busy {
    /// From the end of Convert T to the poll at which all were done.
    pub us: u32,
    /// How much earlier it may have been over: the time between two polls.
    pub grain_us: u32,
}

/// Why a switch was not thrown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum SwitchFault {
    /// There is none.
    NotFitted,
    /// Its pin failed.
    Pin,
    /// The strong pull-up is closed: the two together would short the supply.
    PullUpClosed,
}
