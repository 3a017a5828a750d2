//! The record of a run: all that happened, as data. Every report is made from it.
//!
//! `record.schema.json` beside this file is its JSON Schema; a test keeps it up to date. Apart from
//! [`started_at`](Record::started_at), two runs with the same seed on a virtual rig make the same record.

mod agreement;
mod bridge;
mod capture;
mod edges;
mod fixed_point;
mod model;
pub mod notation;
mod read;
mod recorder;
mod step;
mod tally;
pub mod units;
mod write;

pub use bridge::{
    BridgeRecord, CarrierKind, HOST_LEVEL, ImageRecord, LineRecord, LinkRecord, LogRecord, PortRecord, SpreadRecord,
};
pub use capture::{CaptureRecord, Objection};
pub use edges::{EdgeClock, EdgeRecord};
pub use fixed_point::{BathState, FixedPointRecord, FixedPointSensor};
pub use model::{Breakage, Driver, Record, RunEnd, RunOutcome, SCHEMA_VERSION, Tool};
pub use read::{MAX_RECORD_BYTES, ReadRecordError, read_record};
pub use recorder::Recorder;
pub use step::{
    ConversionRecord, FailureRecord, FoundSensor, ReadNumber, ReadingOutcome, ReadingRecord, Round, Rounds,
    SettingsRecord, StepData, StepOutcome, StepRecord,
};
pub use tally::Tally;
pub use write::{
    UNFINISHED, WriteRecordError, can_be_replaced, folder_name, replace_atomically, write_atomically, write_record,
};
