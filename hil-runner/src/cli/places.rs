//! The path of the history where the command line gives none: the environment, this folder, the user's data folder.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use slotwise_terms::files::HISTORY_VARIABLE;

#[cfg(feature = "history")]
/// The name of a history where none is given.
const HISTORY: &str = "history.sqlite";

/// The history to which a run is added, from the option or the environment; `None`: the run is not stored.
pub(super) fn history_of_run(typed: Option<&Path>) -> Option<PathBuf> {
    typed.map(Path::to_owned).or_else(|| variable(HISTORY_VARIABLE))
}

#[cfg(feature = "history")]
/// The history that a query reads: from the option, the environment, this folder, or the user's data folder.
pub(super) fn history_asked(typed: Option<&Path>) -> PathBuf {
    let here = PathBuf::from(HISTORY);
    let of_user = || data_folder(variable).map(|folder| folder.join("hil-runner").join(HISTORY));
    history_of_run(typed).unwrap_or_else(|| if here.exists() { here } else { of_user().unwrap_or(here) })
}

#[cfg(feature = "history")]
/// The folder for data of the user (XDG Base Directory Specification 0.8: a relative path counts as none).
fn data_folder(variable: impl Fn(&str) -> Option<PathBuf>) -> Option<PathBuf> {
    let set = variable("XDG_DATA_HOME").filter(|path| path.is_absolute());
    set.or_else(|| Some(variable("HOME").filter(|path| path.is_absolute())?.join(".local/share")))
}

/// An empty variable counts as none.
fn variable(name: &str) -> Option<PathBuf> {
    std::env::var_os(name).filter(|value: &OsString| !value.is_empty()).map(PathBuf::from)
}

#[cfg(all(test, feature = "history"))]
mod tests {
    use super::*;

    #[test]
    fn the_folder_for_data_is_that_of_the_specification() {
        let folder = |data: Option<&str>, home: Option<&str>| {
            data_folder(|name| if name == "HOME" { home } else { data }.map(PathBuf::from))
        };
        assert_eq!(folder(Some("/data"), Some("/home/a")), Some("/data".into()));
        assert_eq!(folder(Some("data"), Some("/home/a")), Some("/home/a/.local/share".into()));
        assert_eq!((folder(None, None), folder(None, Some(""))), (None, None));
    }
}
