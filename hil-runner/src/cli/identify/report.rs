//! What came of a session, as data.

use serde::Serialize;
use slotwise::bus::RomCode;

use super::book::Entry;
use crate::judge::Subject;

/// All that came of it.
#[derive(Debug, Serialize)]
pub(super) struct Report {
    pub(super) rig: String,
    pub(super) file: String,
    pub(super) seed: u64,
    pub(super) ended: Ended,
    pub(super) identified: Vec<Identified>,
    pub(super) not_identified: Vec<NotIdentified>,
    /// Sensors on the line that nobody identified in this session, as they are called now.
    pub(super) others: Vec<Subject>,
}

/// How it ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Ended {
    /// There was nothing more to ask for.
    Complete,
    /// The person had enough.
    ByPerson,
    /// Ctrl-C, or a signal that means the same.
    Interrupted,
    /// Nobody answers any more.
    Nobody,
    /// The rig file could not be written.
    NotWritten,
    /// The rig is broken.
    RigBroken,
}

/// A sensor that moved alone, and what it is called now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct Identified {
    pub(super) label: String,
    pub(super) rom: RomCode,
    /// What it was called before.
    pub(super) before: Option<String>,
    /// How far it moved, beyond what the others have in common.
    pub(super) moved_celsius: f64,
    /// How long after the prompt.
    pub(super) after_s: f64,
    /// One minus the chance.
    pub(super) confidence: f64,
    /// The chance that noise alone does this to any sensor in any round, if it is normal and as in the baseline.
    pub(super) chance_at_most: f64,
    /// What was done to the rig file.
    pub(super) file: Entry,
}

/// A label without its sensor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(super) struct NotIdentified {
    pub(super) label: String,
    pub(super) why: String,
}
