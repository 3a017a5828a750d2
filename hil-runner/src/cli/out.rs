//! The folder for the results of a run.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::bench::{Bench, Extent, WaveformError};
use crate::record::{Record, WriteRecordError, write_atomically, write_record};
use crate::report::{JunitError, junit};

/// Why a folder cannot take results.
#[derive(Debug, thiserror::Error)]
pub(super) enum OutError {
    /// It is a file.
    #[error("--out {}: expected a folder that is new or empty, found a file", path.display())]
    File {
        /// What was given.
        path: PathBuf,
    },
    /// It holds something, perhaps older results.
    #[error("--out {}: expected a folder that is new or empty, found {found:?} in it", path.display())]
    NotEmpty {
        /// What was given.
        path: PathBuf,
        /// One of the things in it.
        found: std::ffi::OsString,
    },
    /// It cannot be made, read or written.
    #[error("--out {}: {source}", path.display())]
    Unusable {
        /// What was given.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
}

/// Why results were not written.
#[derive(Debug, thiserror::Error)]
pub(super) enum ResultsError {
    /// A file could not be written.
    #[error(transparent)]
    Write(#[from] WriteRecordError),
    /// The record cannot be put into XML.
    #[error(transparent)]
    Junit(#[from] JunitError),
}

/// A folder that takes results.
#[derive(Debug)]
pub(super) struct Out {
    folders: Vec<PathBuf>,
}

impl Out {
    /// Makes the folder ready for the results of these scenarios, before anything runs.
    pub(super) fn prepare(path: &Path, scenarios: &[&str]) -> Result<Self, OutError> {
        let unusable = |source| OutError::Unusable { path: path.into(), source };
        if path.is_file() {
            return Err(OutError::File { path: path.into() });
        }
        fs::create_dir_all(path).map_err(unusable)?;
        if let Some(found) = fs::read_dir(path).map_err(unusable)?.next() {
            let found = found.map_err(unusable)?.file_name();
            return Err(OutError::NotEmpty { path: path.into(), found });
        }
        let folders: Vec<PathBuf> = match scenarios {
            [_] => vec![path.into()],
            several => several.iter().zip(1..).map(|(name, number)| path.join(folder(number, name))).collect(),
        };
        for folder in &folders {
            fs::create_dir_all(folder).map_err(unusable)?;
            // Only an attempt shows whether it can be written.
            tempfile::Builder::new().prefix(".try-").tempfile_in(folder).map_err(unusable)?;
        }
        Ok(Self { folders })
    }

    /// Writes the results of the scenario in this place.
    pub(super) fn write(
        &self,
        place: usize,
        record: &Record,
        bench: Option<&mut dyn Bench>,
    ) -> Result<Written, ResultsError> {
        let folder = &self.folders[place];
        write_record(record, &folder.join("record.json"))?;
        let xml = junit(record)?;
        write_atomically(&folder.join("junit.xml"), |out| out.write_all(xml.as_bytes()))?;
        let waveform = bench.map(|bench| waveform(bench, &folder.join("line.vcd"))).transpose()?.flatten();
        Ok(Written { folder: folder.clone(), waveform })
    }
}

/// Writes the waveform, if the rig has recorded one.
fn waveform(bench: &mut dyn Bench, path: &Path) -> Result<Option<Extent>, WriteRecordError> {
    let mut extent = None;
    let mut is_possible = true;
    let written = write_atomically(path, |out| match bench.write_waveform(out) {
        Ok(written) => {
            extent = Some(written);
            Ok(())
        }
        Err(WaveformError::Write(error)) => Err(error),
        Err(WaveformError::NotPossible) => {
            is_possible = false;
            // Leaves no file behind.
            Err(io::Error::from(io::ErrorKind::Unsupported))
        }
    });
    if is_possible {
        written?;
    }
    Ok(extent)
}

/// What was written.
#[derive(Debug)]
pub(super) struct Written {
    folder: PathBuf,
    /// How much the waveform shows; none if there is none.
    waveform: Option<Extent>,
}

impl Written {
    /// What to tell of it.
    pub(super) fn text(&self) -> String {
        let files = match self.waveform {
            Some(Extent::Whole) => "record.json, junit.xml and line.vcd",
            Some(Extent::End) => "record.json, junit.xml and line.vcd (the end of the run only, it was too long)",
            None => "record.json and junit.xml",
        };
        format!("{files} written to {}", self.folder.display())
    }
}

/// A name for a folder: the scenario's, with what may be awkward in a path replaced.
fn folder(number: usize, name: &str) -> String {
    let plain: String =
        name.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    let words: Vec<&str> = plain.split('-').filter(|word| !word.is_empty()).collect();
    let mut short = words.join("-");
    short.truncate(40);
    format!("{number}-{}", if short.is_empty() { "scenario" } else { &short })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn old_results_are_never_mixed_with_new_ones() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("record.json"), "{}").unwrap();
        let error = Out::prepare(folder.path(), &["a"]).unwrap_err();
        assert!(matches!(&error, OutError::NotEmpty { found, .. } if found == "record.json"), "{error}");
        assert_eq!(fs::read(folder.path().join("record.json")).unwrap(), b"{}");
    }

    #[test]
    fn a_file_is_no_folder() {
        let file = tempfile::NamedTempFile::new().unwrap();
        assert!(matches!(Out::prepare(file.path(), &["a"]).unwrap_err(), OutError::File { .. }));
        let inside = file.path().join("results");
        assert!(matches!(Out::prepare(&inside, &["a"]).unwrap_err(), OutError::Unusable { .. }));
    }

    #[test]
    fn several_scenarios_have_folders_of_their_own_even_with_one_name() {
        let folder = tempfile::tempdir().unwrap();
        let out = Out::prepare(
            &folder.path().join("new/results"),
            &["A day: in the cellar", "A day: in the cellar", "../.."],
        );
        let names: Vec<_> = out.unwrap().folders.iter().map(|path| path.file_name().unwrap().to_owned()).collect();
        assert_eq!(names, ["1-a-day-in-the-cellar", "2-a-day-in-the-cellar", "3-scenario"]);
    }
}
