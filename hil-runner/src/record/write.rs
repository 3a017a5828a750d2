//! Writing files so that each is there as a whole or not at all.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::Record;

/// Why a file of a run was not written. What was there before is still there.
#[derive(Debug, thiserror::Error)]
#[error("cannot write {}: {source}", path.display())]
pub struct WriteRecordError {
    /// The file.
    pub path: PathBuf,
    /// The cause.
    pub source: io::Error,
}

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

/// Has `content` write a file that takes its name only once it is complete.
///
/// # Errors
/// [`WriteRecordError`], with the error of `content` or of the file system.
pub fn write_atomically(
    path: &Path,
    content: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), WriteRecordError> {
    let whole = || {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        // As any other file once it has its name; by default only its owner could read it.
        let mut builder = tempfile::Builder::new();
        builder.prefix(".unfinished-");
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let file: NamedTempFile = builder.tempfile_in(folder)?;
        let mut out = io::BufWriter::new(file);
        content(&mut out)?;
        let file = out.into_inner().map_err(io::IntoInnerError::into_error)?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|error| error.error)?;
        Ok(())
    };
    whole().map_err(|source| WriteRecordError { path: path.into(), source })
}

/// Replaces a file by one with this content, with the permissions and, where that is allowed, the owner of the old one. `check` is
/// asked once the new file is complete: if it refuses, the old one stays.
///
/// # Errors
/// [`WriteRecordError`], with the error of `check` or of the file system.
pub fn replace_atomically(
    path: &Path,
    content: &[u8],
    check: impl FnOnce() -> io::Result<()>,
) -> Result<(), WriteRecordError> {
    let whole = || {
        let old = std::fs::metadata(path)?;
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let mut file = tempfile::Builder::new().prefix(".unfinished-").tempfile_in(folder)?;
        file.write_all(content)?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::{MetadataExt, fchown};
            // Not everybody may give files away; whoever may write the folder could do the same by hand.
            let _ = fchown(file.as_file(), Some(old.uid()), Some(old.gid()));
        }
        file.as_file().set_permissions(old.permissions())?;
        file.as_file().sync_all()?;
        check()?;
        file.persist(path).map_err(|error| error.error)?;
        Ok(())
    };
    whole().map_err(|source| WriteRecordError { path: path.into(), source })
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_could_not_be_finished_does_not_appear() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("line.vcd");
        let error = write_atomically(&path, |out| {
            out.write_all(b"half")?;
            Err(io::Error::other("the rest is lost"))
        })
        .unwrap_err();
        assert!(error.to_string().ends_with("line.vcd: the rest is lost"), "{error}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_finished_file_stands_alone_in_its_folder() {
        let folder = tempfile::tempdir().unwrap();
        write_atomically(&folder.path().join("a"), |out| out.write_all(b"whole")).unwrap();
        let names: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        assert_eq!(names, ["a"]);
        assert_eq!(std::fs::read(folder.path().join("a")).unwrap(), b"whole");
    }
}
