//! Writing files so that each is there as a whole or not at all.

use std::ffi::OsString;
use std::fs::DirEntry;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use tempfile::NamedTempFile;

/// Why a file was not written. What was there before is still there.
#[derive(Debug, thiserror::Error)]
#[error("cannot write {}: {source}", path.display())]
pub struct WriteRecordError {
    /// The file.
    pub path: PathBuf,
    /// The cause.
    pub source: io::Error,
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
        // As any other file once it has its name; by default only its owner could read it.
        let mut builder = tempfile::Builder::new();
        builder.prefix(".unfinished-");
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let file: NamedTempFile = builder.tempfile_in(folder_of(path))?;
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
/// called once the new file is complete: if it refuses, the old one stays.
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
        remove_leftovers(path);
        let mut file = unfinished(path)?;
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

/// Tries whether a file could be replaced: it may be written, and so may its folder. Nothing is changed.
///
/// # Errors
/// That of the file system.
pub fn can_be_replaced(path: &Path) -> io::Result<()> {
    std::fs::OpenOptions::new().append(true).open(path)?;
    unfinished(path).map(drop)
}

/// Age from which an unfinished file counts as abandoned (chosen): writing takes parts of a second.
const LEFT_BEHIND: Duration = Duration::from_secs(60);

fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// What a file that is to replace this one is called until it does, without the characters that make the name unique.
fn unfinished_prefix(path: &Path) -> OsString {
    let mut prefix = OsString::from(".unfinished-");
    prefix.push(path.file_name().unwrap_or_default());
    prefix.push("-");
    prefix
}

fn unfinished(path: &Path) -> io::Result<NamedTempFile> {
    tempfile::Builder::new().prefix(&unfinished_prefix(path)).tempfile_in(folder_of(path))
}

/// Removes what was to replace this file and never did, because the program was killed. Where that is not allowed, it stays.
fn remove_leftovers(path: &Path) {
    let prefix = unfinished_prefix(path);
    let is_left = |entry: &DirEntry| {
        let is_ours = entry.file_name().as_encoded_bytes().starts_with(prefix.as_encoded_bytes());
        let age = || entry.metadata().ok()?.modified().ok()?.elapsed().ok();
        is_ours && age().is_some_and(|age| age >= LEFT_BEHIND)
    };
    let entries = std::fs::read_dir(folder_of(path)).into_iter().flatten().flatten();
    for entry in entries.filter(is_left) {
        let _ = std::fs::remove_file(entry.path());
    }
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

    #[test]
    fn what_a_killed_program_left_is_removed_and_what_another_writes_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("rig.toml");
        std::fs::write(&path, "old").unwrap();
        let old = std::time::SystemTime::now() - 2 * LEFT_BEHIND;
        for (name, is_old) in [
            (".unfinished-rig.toml-Ab3xYz", true),
            (".unfinished-rig.toml-Cd4xYz", false),
            (".unfinished-Ef5xYz", true),
        ] {
            let file = std::fs::File::create(folder.path().join(name)).unwrap();
            if is_old {
                file.set_modified(old).unwrap();
            }
        }
        replace_atomically(&path, b"new", || Ok(())).unwrap();
        let names = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name());
        let names: std::collections::BTreeSet<_> = names.collect();
        assert_eq!(
            names.into_iter().collect::<Vec<_>>(),
            [".unfinished-Ef5xYz", ".unfinished-rig.toml-Cd4xYz", "rig.toml"]
        );
    }
}
