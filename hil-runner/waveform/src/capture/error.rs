//! Why a capture cannot be read, and what is damaged in one that can.

use std::io;

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

/// Why a capture cannot be read at all.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The file cannot be read.
    #[error("cannot be read: {0}")]
    Io(#[source] io::Error),
    /// There is nothing in it.
    #[error("is empty")]
    Empty,
    /// Its header is no header of a Value Change Dump.
    #[error("is no Value Change Dump that can be read: line {line}: {why}")]
    Header {
        /// Where.
        line: u64,
        /// What the parser says.
        why: String,
    },
    /// No time scale, so no time has a length.
    #[error("has no $timescale: its times have no length")]
    NoTimescale,
    /// A time scale of nothing.
    #[error("has a $timescale of 0")]
    ZeroTimescale,
    /// More signals than a logic analyser has.
    #[error("has more than {most} signals")]
    TooManySignals {
        /// So many are read.
        most: usize,
    },
    /// Scopes inside scopes without end.
    #[error("has more than {most} scopes inside each other")]
    TooDeep {
        /// So many are read.
        most: usize,
    },
    /// No signal with two levels.
    #[error("has no signal of one bit")]
    NoSignal,
}

/// A place in a capture that could not be read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Damage {
    /// Line of the file.
    pub line: u64,
    /// The time of the capture up to which everything was read, in nanoseconds.
    pub at_ns: u64,
    /// What is wrong.
    pub why: String,
}
