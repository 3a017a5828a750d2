//! A rig file that takes corrections and labels: as it was when it was read, and written as a whole or not at all.

use std::cell::Cell;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::edit::{Change, EditError, edited};
use slotwise_terms::files::{WriteRecordError, can_be_replaced, replace_atomically};

/// Why nothing was stored in a rig file. What was there before is still there.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// It cannot be read.
    #[error("cannot read {}: {source}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// It is a folder, a pipe or the like, or it is read-only.
    #[error("{} is {what}, so nothing can be stored in it", path.display())]
    NotWritable {
        /// The file.
        path: PathBuf,
        /// What it is.
        what: &'static str,
    },
    /// Whoever runs this may not write it, or may make no file beside it, with which it is replaced as a whole.
    #[error("nothing can be stored in {}, or no file made beside it that replaces it: {source}", path.display())]
    Denied {
        /// The file.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// It has changed since it was read.
    #[error("{} has changed since it was read: nothing is stored; run again", path.display())]
    Changed {
        /// The file.
        path: PathBuf,
    },
    /// It cannot be edited.
    #[error("nothing is stored in {}: {source}", path.display())]
    Edit {
        /// The file.
        path: PathBuf,
        /// Why.
        source: EditError,
    },
    /// It cannot be written.
    #[error(transparent)]
    Write(#[from] WriteRecordError),
}

/// A rig file as it was at one time.
#[derive(Clone, Debug)]
pub struct RigFile {
    /// The file itself, behind any links.
    path: PathBuf,
    text: String,
}

impl RigFile {
    /// Takes note of a file as it is now.
    ///
    /// # Errors
    /// [`StoreError`] if nothing could be stored in it.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let unreadable = |source| StoreError::Unreadable { path: path.into(), source };
        let itself = fs::canonicalize(path).map_err(unreadable)?;
        let metadata = fs::metadata(&itself).map_err(unreadable)?;
        let unfit = |what| Err(StoreError::NotWritable { path: path.into(), what });
        if !metadata.is_file() {
            return unfit("no regular file");
        }
        if metadata.permissions().readonly() {
            return unfit("read-only");
        }
        #[cfg(unix)]
        if std::os::unix::fs::MetadataExt::nlink(&metadata) > 1 {
            return unfit("one of several hard links to the same file, which storing would part");
        }
        can_be_replaced(&itself).map_err(|source| StoreError::Denied { path: path.into(), source })?;
        let text = fs::read_to_string(&itself).map_err(unreadable)?;
        Ok(Self { path: itself, text })
    }

    /// Where it is, behind any links.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Checks that it is still as it was.
    ///
    /// # Errors
    /// [`StoreError::Changed`], or [`StoreError::Unreadable`].
    pub fn check(&self) -> Result<(), StoreError> {
        let now = fs::read(&self.path).map_err(|source| StoreError::Unreadable { path: self.path.clone(), source })?;
        if now == self.text.as_bytes() { Ok(()) } else { Err(StoreError::Changed { path: self.path.clone() }) }
    }

    /// Its text as it was.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Writes changes into it, and leaves every other byte as it is. What comes back is the file as it is then.
    ///
    /// # Errors
    /// [`StoreError`]; the file is then as before.
    pub fn store(&self, changes: &[Change]) -> Result<Self, StoreError> {
        let edited =
            edited(&self.text, changes).map_err(|source| StoreError::Edit { path: self.path.clone(), source })?;
        self.check()?;
        // Once more when the new file is complete, right before it takes the place of the old one.
        let changed = Cell::new(None);
        let written = replace_atomically(&self.path, edited.as_bytes(), || {
            self.check().map_err(|error| {
                changed.set(Some(error));
                io::Error::other("it has changed")
            })
        });
        match changed.take() {
            Some(error) => Err(error),
            None => {
                written?;
                Ok(Self { path: self.path.clone(), text: edited })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Correction, Rig, built_in_rig_text};

    fn cellar(folder: &tempfile::TempDir) -> PathBuf {
        let path = folder.path().join("rig.toml");
        fs::write(&path, built_in_rig_text("cellar").unwrap()).unwrap();
        path
    }

    fn one(path: &Path) -> Vec<Change> {
        let rig = Rig::load(path).unwrap();
        let correction = Correction { millicelsius: -80, at: Some("ice point".into()), on: Some("2026-11-25".into()) };
        vec![Change::Correction(rig.inventory[0].rom, correction)]
    }

    #[test]
    fn a_file_that_changed_since_it_was_read_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = cellar(&folder);
        let file = RigFile::open(&path).unwrap();
        let corrections = one(&path);
        let other = format!("{}\n# mine\n", built_in_rig_text("cellar").unwrap());
        fs::write(&path, &other).unwrap();
        let error = file.store(&corrections).unwrap_err();
        assert!(error.to_string().ends_with("has changed since it was read: nothing is stored; run again"));
        assert_eq!(fs::read_to_string(&path).unwrap(), other);
    }

    #[cfg(unix)]
    #[test]
    fn links_and_permissions_stay_as_they_were() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = cellar(&folder);
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
        let link = folder.path().join("link.toml");
        std::os::unix::fs::symlink("rig.toml", &link).unwrap();
        RigFile::open(&link).unwrap().store(&one(&path)).unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o640);
        assert_eq!(Rig::load(&link).unwrap().inventory[0].correction.as_ref().unwrap().millicelsius, -80);
        let names = fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(names, 2, "nothing unfinished is left");
    }

    #[cfg(unix)]
    #[test]
    fn a_read_only_file_is_refused_before_anything_is_done() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = cellar(&folder);
        fs::set_permissions(&path, fs::Permissions::from_mode(0o444)).unwrap();
        assert!(matches!(RigFile::open(&path), Err(StoreError::NotWritable { what: "read-only", .. })));
        assert!(matches!(RigFile::open(folder.path()), Err(StoreError::NotWritable { .. })));
        assert!(matches!(RigFile::open(&folder.path().join("none")), Err(StoreError::Unreadable { .. })));
    }

    /// Neither file depends on who runs this test: the system refuses them to everybody.
    #[cfg(target_os = "linux")]
    #[test]
    fn what_the_system_refuses_is_found_before_anything_is_done() {
        // A program that runs cannot be written ("text file busy"), and no files can be made in /proc.
        let program = std::env::current_exe().unwrap();
        for path in [program.as_path(), Path::new("/proc/self/comm")] {
            assert!(matches!(RigFile::open(path), Err(StoreError::Denied { .. })), "{}", path.display());
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_file_with_a_second_name_is_not_parted_from_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = cellar(&folder);
        fs::hard_link(&path, folder.path().join("other.toml")).unwrap();
        let error = RigFile::open(&path).unwrap_err();
        assert!(error.to_string().contains("one of several hard links to the same file"), "{error}");
    }
}
