//! Where the record of a run is written.

use std::path::Path;

use super::Record;
use slotwise_terms::files::{WriteRecordError, write_atomically};

/// Name of the file that marks a folder for results until all of them are there. Its run keeps it locked.
pub const UNFINISHED: &str = ".run-going-on";

/// Writes the record as JSON.
///
/// # Errors
/// [`WriteRecordError`].
pub fn write_record(record: &Record, path: &Path) -> Result<(), WriteRecordError> {
    write_atomically(path, |out| {
        serde_json::to_writer_pretty(&mut *out, record)?;
        out.write_all(b"\n")
    })
}

/// A name for a folder: a number, and a name with what may be awkward in a path replaced.
#[must_use]
pub fn folder_name(number: usize, name: &str) -> String {
    let plain: String =
        name.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    let words: Vec<&str> = plain.split('-').filter(|word| !word.is_empty()).collect();
    let mut short = words.join("-");
    short.truncate(40);
    format!("{number}-{}", if short.is_empty() { "scenario" } else { &short })
}
