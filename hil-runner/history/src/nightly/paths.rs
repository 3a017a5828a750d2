//! Paths that a night writes: missing folders are made, and paths that cannot be written are reported before the night.

use std::fs;
use std::io;
use std::path::Path;

use super::keys;
use super::plan::Plan;

/// Makes the folder that a file is to lie in.
pub(super) fn make_folder_of(file: &Path) -> io::Result<()> {
    file.parent().map_or(Ok(()), fs::create_dir_all)
}

impl Plan {
    /// Why what the plan names cannot be written: one text for each that cannot be.
    #[must_use]
    pub fn obstacles(&self) -> Vec<String> {
        let of_file = |path: &Path| match path.is_dir() {
            true => Some("it is a folder".to_owned()),
            false => path.parent().and_then(obstacle),
        };
        let found = [
            (&keys::HISTORY, &self.history, of_file(&self.history)),
            (&keys::REPORTS, &self.reports, obstacle(&self.reports)),
            (&keys::METRICS, &self.metrics, of_file(&self.metrics)),
        ];
        let text = |(key, path, why): (&slotwise_terms::input::form::Key, &std::path::PathBuf, Option<String>)| {
            Some(format!("{}: cannot write {}: {}", key.name, path.display(), why?))
        };
        found.into_iter().filter_map(text).collect()
    }
}

/// Why a folder can be neither written nor made.
fn obstacle(folder: &Path) -> Option<String> {
    let there = folder.ancestors().find(|folder| folder.symlink_metadata().is_ok())?;
    (!there.is_dir()).then(|| format!("{} is no folder", there.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unwritable_paths_are_reported_and_missing_folders_are_not() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("file"), "").unwrap();
        let obstacles = |history: &str, reports: &str, metrics: &str| {
            let text = format!(
                "plan = \"x\"\nhistory = \"{history}\"\nreports = \"{reports}\"\nmetrics = \"{metrics}\"\n\
                 [[run]]\nrig = \"cellar\"\nscenarios = [\"cellar\"]\n"
            );
            let plan = Plan::parse("plan.toml", &text, folder.path()).unwrap();
            let named = |text: &String| text.split(':').next().unwrap().to_owned();
            plan.obstacles().iter().map(named).collect::<Vec<_>>()
        };
        let none: [&str; 0] = [];
        assert_eq!(obstacles("a/h.sqlite", "b/c", "d/e/m.txt"), none);
        assert_eq!(obstacles("file/h.sqlite", "file", "file/d/m.txt"), ["history", "reports", "metrics"]);
        assert_eq!(obstacles("file", "b", "."), ["metrics"]);
    }
}
