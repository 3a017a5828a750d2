//! What the bridge answers.

use serde::{Deserialize, Serialize};
use slotwise::bus::{RomCode, SearchError};
use slotwise::thermometer::{
    ConvertError, Doubts, Evidence, ProveError, ReadError, ReadPowerError, Receipt, Round, RoundOver, SaveError, Saved,
    Settings, Started, Supply, UnknownFamily, WriteError,
};

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
    IsPresent(Result<bool, SearchError<MasterFault>>),
    /// The power mode.
    Supply(Result<Supply, ReadPowerError<MasterFault>>),
    /// The nine bytes.
    Scratchpad(Result<[u8; 9], OfSensor<ReadError<MasterFault>>>),
    /// The reading.
    Read(Result<Sample, OfSensor<ReadFailure>>),
    /// Written.
    Write(Result<(), OfSensor<WriteError<MasterFault>>>),
    /// Saved.
    Save(Result<Saved, OfSensor<SaveError<MasterFault>>>),
    /// The settings that were recalled.
    Recall(Result<Settings, OfSensor<SaveError<MasterFault>>>),
    /// The conversion.
    Convert(Result<Converted, ConvertError<MasterFault>>),
    /// The reading, with the mark of the proof in its bytes and settings.
    Prove(Result<Sample, OfSensor<ProveError<MasterFault>>>),
    /// The timing set is in use.
    SetTiming,
    /// The switch is there.
    Throw(Result<(), SwitchFault>),
    /// See the line's report.
    Look,
    /// It is known.
    WirePullUp,
    /// The sensor was seen busy, in this round.
    Start(Result<(Round, Started), ConvertError<MasterFault>>),
    /// The longest conversion time is over.
    FinishRound(RoundOver),
}

/// Pins or port of the bus master failed. What the chip knows more of it is in its log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MasterFault;

impl embedded_hal::digital::Error for MasterFault {
    fn kind(&self) -> embedded_hal::digital::ErrorKind {
        embedded_hal::digital::ErrorKind::Other
    }
}

/// An error of one sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum OfSensor<E> {
    /// The driver does not know its family.
    Family(UnknownFamily),
    /// The driver's error.
    Driver(E),
}

/// A scratchpad that could not be read, or that holds no temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadFailure {
    /// The driver's error.
    pub error: ReadError<MasterFault>,
    /// The nine bytes, if they came with a right CRC.
    pub bytes: Option<[u8; 9]>,
}

/// Some of the ROM codes on a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Page {
    /// The codes, in the order of the search.
    pub roms: heapless::Vec<RomCode, PAGE>,
    /// What follows.
    pub end: Result<Ending, SearchError<MasterFault>>,
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
