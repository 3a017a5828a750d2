//! One problem in a file: where it is, what was expected there, and at most one hint.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use super::visible::spelled_out;

/// A place in a file, as editors count: both from 1, columns in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// Line.
    pub line: usize,
    /// Column.
    pub column: usize,
}

/// What is wrong.
#[derive(Clone, Debug, thiserror::Error)]
pub enum Complaint {
    /// There is no such file.
    #[error("expected a file, found nothing of this name")]
    NotFound,
    /// It is a folder.
    #[error("expected a file, found a folder")]
    Folder,
    /// It may never end.
    #[error("expected a file, found something else (a pipe or a device)")]
    NotRegular,
    /// The system does not let it be read.
    #[error("expected a file that can be read: {0}")]
    Unreadable(#[source] Arc<std::io::Error>),
    /// It is larger than any file written by hand.
    #[error("expected at most {limit_bytes} bytes, found more")]
    TooLarge {
        /// The most that is read.
        limit_bytes: u64,
    },
    /// It is not text.
    #[error("expected UTF-8 text, found byte {byte:02X}h at offset {offset}")]
    NotUtf8 {
        /// The first byte that is not part of text.
        byte: u8,
        /// Its offset, from 0.
        offset: usize,
    },
    /// It is text, but not TOML.
    #[error("not TOML: {message}")]
    Syntax {
        /// What the parser says.
        message: String,
    },
    /// One thing stands where another belongs.
    #[error("expected {expected}, found {found}")]
    Unexpected {
        /// What belongs there.
        expected: String,
        /// What stands there.
        found: String,
    },
    /// Two things do not go together.
    #[error("expected {rule}, found {found}")]
    Contradiction {
        /// What would go together.
        rule: String,
        /// What does not.
        found: String,
    },
}

/// A place that a label points at.
#[derive(Clone, Debug)]
pub struct Mark {
    pub span: Range<usize>,
    pub text: String,
}

/// One problem in a file.
///
/// Its message stands alone: `shed.toml:12:9: expected a resistance such as "4.7 kohm", found "30 m", a length`.
#[derive(Clone, Debug)]
pub struct Problem {
    file: String,
    position: Option<Position>,
    complaint: Complaint,
    source: Option<Arc<str>>,
    marks: Vec<Mark>,
    hint: Option<String>,
}

impl Problem {
    /// A problem of a whole file.
    pub(super) fn of_file(file: &str, complaint: Complaint) -> Self {
        Self { file: spelled_out(file), position: None, complaint, source: None, marks: Vec::new(), hint: None }
    }

    pub(super) fn at(self, position: Position) -> Self {
        Self { position: Some(position), ..self }
    }

    pub(super) fn marked(self, source: Arc<str>, marks: Vec<Mark>) -> Self {
        Self { source: Some(source), marks, ..self }
    }

    pub(super) fn hinted(self, hint: Option<String>) -> Self {
        Self { hint, ..self }
    }

    /// Name of the file.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.file
    }

    /// Where in the file, unless it is about the file as a whole.
    #[must_use]
    pub const fn position(&self) -> Option<Position> {
        self.position
    }

    /// What is wrong.
    #[must_use]
    pub const fn complaint(&self) -> &Complaint {
        &self.complaint
    }

    /// What may help.
    #[must_use]
    pub fn hint(&self) -> Option<&str> {
        self.hint.as_deref()
    }

    /// The text of the file as it may be shown, unless the problem is about the file as a whole.
    pub(super) fn source_text(&self) -> Option<&str> {
        self.source.as_deref()
    }

    /// Places in the file, the problem's own first.
    pub fn marks(&self) -> &[Mark] {
        &self.marks
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:", self.file)?;
        if let Some(Position { line, column }) = self.position {
            write!(f, "{line}:{column}:")?;
        }
        write!(f, " {}", self.complaint)
    }
}

impl std::error::Error for Problem {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        std::error::Error::source(&self.complaint)
    }
}
