//! The record of a run: all that happened, as data. Every report is made from it.
//!
//! `record.schema.json` beside this file is its JSON Schema; a test keeps it up to date. Apart from
//! [`started_at`](Record::started_at), two runs with the same seed on a virtual rig make the same record.

mod agreement;
mod capture;
mod event;
mod fixed_point;
mod head;
mod model;
mod read;
mod recorder;
mod step;
mod subject;
mod tally;
mod verdict;
mod words;
mod write;

pub use capture::{CaptureRecord, NotJudged, Objection};
pub use event::{Event, Listener, Listeners, Progress, Start};
pub use fixed_point::{BathState, FixedPointRecord, FixedPointSensor};
pub use head::{Head, MeasuredOn};
pub use model::{Breakage, Record, RunEnd, RunOutcome, SCHEMA_VERSION, Tool};
pub use read::{MAX_RECORD_BYTES, ReadRecordError, read_record};
pub use recorder::Recorder;
pub use step::{
    ConversionRecord, FailureRecord, FoundSensor, ReadNumber, ReadingOutcome, ReadingRecord, Round, Rounds,
    SettingsRecord, StepData, StepOutcome, StepRecord,
};
pub use subject::Subject;
pub use subject::subject;
pub use tally::Tally;
pub use verdict::{Check, Comparison, Miss, Ruling, Verdict};
pub use write::{UNFINISHED, folder_name, write_record};
