//! The files of one command line: a file that it writes must not be one that it reads, nor another that it writes.
//!
//! Paths are compared by the file they lead to: through links, through `..`, by hard links, and for files that are not
//! there yet by the folder that they would lie in.

use std::ffi::OsString;
use std::fmt;
use std::path::{Component, Path, PathBuf};

use chrono::NaiveDate;

use super::args::RigArgs;
use super::console::Console;
use super::exit::Exit;
use slotwise_rig::{BridgeRig, Rig, RigKind};
use slotwise_terms::input::source::is_file_there;
use slotwise_terms::input::visible::spelled_out;

/// Links followed one after the other, as operating systems limit them: more count as a loop.
const MOST_LINKS: usize = 40;

/// What SQLite puts beside a database, by the end of the name (sqlite.org, "Temporary Files Used By SQLite").
const BESIDE_HISTORY: [&str; 3] = ["-wal", "-shm", "-journal"];

/// Behind the option of a file: what lies beside it.
const BESIDE: &str = " (beside it)";

/// How a command uses a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Use {
    Reads,
    Writes,
    /// All that lies in this folder, now or later.
    WritesInside,
    /// All that lies in the folders of nights inside this folder.
    WritesNights,
}

/// A file of the command line.
#[derive(Clone, Debug)]
struct Named {
    /// The option or key that names it.
    by: String,
    path: PathBuf,
    used: Use,
    target: FileIdentity,
}

/// The file or folder that a path leads to.
#[derive(Clone, Debug, PartialEq, Eq)]
struct FileIdentity {
    /// The path without links and `..`.
    real: PathBuf,
    /// Device and number, of a file that is there.
    #[cfg(unix)]
    number: Option<(u64, u64)>,
}

/// The files of one call.
#[derive(Clone, Debug, Default)]
pub(super) struct Files(Vec<Named>);

/// Two files of a call of which one would overwrite the other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Clash {
    /// What would be written.
    writes: (String, PathBuf),
    /// What would be lost.
    other: (String, PathBuf),
}

impl fmt::Display for Clash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { writes: (writes, path), other: (other, lost) } = self;
        let shown = |path: &Path| spelled_out(&path.to_string_lossy());
        let (path, lost) = (shown(path), shown(lost));
        write!(f, "{writes} {path}: expected a file of its own, found {other} {lost} there, which would be overwritten")
    }
}

impl Files {
    /// A file that is only read.
    pub(super) fn reads(&mut self, by: impl Into<String>, path: &Path) -> &mut Self {
        self.add(by, path, Use::Reads)
    }

    /// What was typed for a rig or a scenario, if it is a file and no built-in one.
    pub(super) fn reads_if_file(&mut self, by: &str, name: &str) -> &mut Self {
        let path = Path::new(name);
        if is_file_there(path) { self.reads(by, path) } else { self }
    }

    /// A file that is written.
    pub(super) fn writes(&mut self, by: impl Into<String>, path: &Path) -> &mut Self {
        self.add(by, path, Use::Writes)
    }

    /// A history, with what the database puts beside it.
    pub(super) fn writes_history(&mut self, by: &str, path: &Path) -> &mut Self {
        self.writes(by, path);
        // The database lies where the link leads.
        let real = target(path).real;
        for end in BESIDE_HISTORY {
            let mut name = OsString::from(&real);
            name.push(end);
            self.writes(format!("{by}{BESIDE}"), Path::new(&name));
        }
        self
    }

    /// A folder in which anything may be written.
    pub(super) fn writes_inside(&mut self, by: impl Into<String>, folder: &Path) -> &mut Self {
        self.add(by, folder, Use::WritesInside)
    }

    /// A folder for the reports of nights: their folders inside, and what leads to the latest.
    #[cfg(feature = "history")]
    pub(super) fn writes_nights(&mut self, by: &str, folder: &Path) -> &mut Self {
        for name in [".lock", "latest", ".latest-new"] {
            self.writes(by, &folder.join(name));
        }
        self.add(by, folder, Use::WritesNights)
    }

    fn add(&mut self, by: impl Into<String>, path: &Path, used: Use) -> &mut Self {
        self.0.push(Named { by: by.into(), path: path.into(), used, target: target(path) });
        self
    }

    /// All pairs of which one would overwrite the other.
    pub(super) fn clashes(&self) -> Vec<Clash> {
        let mut found = Vec::new();
        for (index, one) in self.0.iter().enumerate() {
            for other in &self.0[index + 1..] {
                let (writes, lost) = if one.used == Use::Reads { (other, one) } else { (one, other) };
                // An option handles its own files.
                if writes.used != Use::Reads && one.owner() != other.owner() && meet(one, other) {
                    let of = |named: &Named| (named.by.clone(), named.path.clone());
                    found.push(Clash { writes: of(writes), other: of(lost) });
                }
            }
        }
        found
    }

    /// Reports all of them.
    ///
    /// # Errors
    /// The exit code, if there is one.
    pub(super) fn check(&self, console: &Console) -> Result<(), Exit> {
        let clashes = self.clashes();
        for clash in &clashes {
            console.error(clash);
        }
        if clashes.is_empty() { Ok(()) } else { Err(Exit::BadInput) }
    }
}

/// What a call does with the file of a rig.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum RigFileUse {
    /// It reads it.
    Reads,
    /// It writes labels or corrections into it.
    Writes,
}

/// The files that the options for a rig name.
pub(super) fn of_rig(files: &mut Files, args: &RigArgs, used: RigFileUse) {
    match args.rig.as_deref().filter(|rig| is_file_there(Path::new(rig))) {
        Some(rig) if used == RigFileUse::Writes => files.writes("--rig", Path::new(rig)),
        Some(rig) => files.reads("--rig", Path::new(rig)),
        None => files,
    };
    if let Some(image) = &args.image {
        files.reads("--image", image);
    }
    if let Some(rig) = &args.rig {
        reads_image_of(files, Path::new(rig));
    }
}

/// The firmware image that the file of a rig names. What is wrong with that file is reported where it is read.
pub(super) fn reads_image_of(files: &mut Files, rig: &Path) {
    if let Ok(Rig { kind: RigKind::Bridge(BridgeRig { image: Some(image), .. }), .. }) = Rig::load_unfilled(rig) {
        files.reads("image of the rig", &image);
    }
}

/// Whether writing one of two files would overwrite the other.
fn meet(one: &Named, other: &Named) -> bool {
    one.target.is(&other.target) && ![one.used, other.used].contains(&Use::WritesNights)
        || one.takes(other)
        || other.takes(one)
}

impl Named {
    /// The option or key that it belongs to.
    fn owner(&self) -> &str {
        self.by.strip_suffix(BESIDE).unwrap_or(&self.by)
    }

    /// Whether this is a folder in which the other may be overwritten.
    fn takes(&self, other: &Self) -> bool {
        let Ok(inside) = other.target.real.strip_prefix(&self.target.real) else { return false };
        match self.used {
            Use::Reads | Use::Writes => false,
            Use::WritesInside => true,
            Use::WritesNights => inside.components().next().is_some_and(is_of_night),
        }
    }
}

/// Whether a folder is called as that of a night: a date, with or without a number behind it.
fn is_of_night(name: Component<'_>) -> bool {
    let name = name.as_os_str().to_str().unwrap_or_default();
    name.get(..10).is_some_and(|date| NaiveDate::parse_from_str(date, "%Y-%m-%d").is_ok())
}

impl FileIdentity {
    fn is(&self, other: &Self) -> bool {
        #[cfg(unix)]
        if self.number.is_some() && self.number == other.number {
            return true;
        }
        self.real == other.real
    }
}

/// Resolves a path to its file or folder.
fn target(path: &Path) -> FileIdentity {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let number = path.metadata().ok().map(|metadata| (metadata.dev(), metadata.ino()));
        FileIdentity { real: real(path), number }
    }
    #[cfg(not(unix))]
    FileIdentity { real: real(path) }
}

/// A path without links and `..`, also of what is not there.
fn real(path: &Path) -> PathBuf {
    let mut left = MOST_LINKS;
    // Without a folder of its own a program has no relative paths; such a call fails for other reasons.
    resolved(&std::path::absolute(path).unwrap_or_else(|_| path.into()), &mut left)
}

fn resolved(path: &Path, left: &mut usize) -> PathBuf {
    let mut real = PathBuf::new();
    let mut parts = path.components();
    while let Some(part) = parts.next() {
        match part {
            Component::CurDir => {}
            Component::ParentDir => {
                real.pop();
            }
            Component::Prefix(_) | Component::RootDir => real.push(part),
            Component::Normal(name) => {
                real.push(name);
                if let Ok(to) = real.read_link() {
                    real.pop();
                    if *left == 0 {
                        // A circle leads nowhere, and cannot be opened.
                        return path.into();
                    }
                    *left -= 1;
                    return resolved(&real.join(to).join(parts.as_path()), left);
                }
            }
        }
    }
    real
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn clashes(files: &Files, expected: usize) {
        let found = files.clashes();
        assert_eq!(found.len(), expected, "{found:?}");
    }

    #[test]
    fn a_file_read_twice_is_no_clash_and_a_file_read_and_written_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| folder.path().join(name);
        std::fs::write(path("rig.toml"), "").unwrap();
        std::fs::create_dir(path("inside")).unwrap();
        clashes(Files::default().reads("a", &path("rig.toml")).reads("b", &path("rig.toml")), 0);
        clashes(Files::default().reads("a", &path("rig.toml")).writes("b", &path("other.svg")), 0);
        for same in ["rig.toml", "inside/../rig.toml", "./inside/.././rig.toml"] {
            clashes(Files::default().reads("a", &path("rig.toml")).writes("b", &path(same)), 1);
        }
        clashes(Files::default().writes("a", &path("new.svg")).writes("b", &path("inside/../new.svg")), 1);
        let clash =
            Files::default().reads("--rig", Path::new("x")).writes("--plot", Path::new("./x")).clashes().remove(0);
        assert_eq!(
            clash.to_string(),
            "--plot ./x: expected a file of its own, found --rig x there, which would be overwritten"
        );
    }

    #[test]
    fn files_in_a_results_folder_and_beside_a_history_clash() {
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| folder.path().join(name);
        clashes(
            Files::default().writes_inside("--out", &path("out")).writes_history("--history", &path("h.sqlite")),
            0,
        );
        clashes(Files::default().writes_inside("--out", &path("out")).reads("rig", &path("out/a/rig.toml")), 1);
        clashes(Files::default().writes_inside("--out", &path("out")).reads("rig", &path("out.toml")), 0);
        for beside in BESIDE_HISTORY {
            let metrics = path(&format!("h.sqlite{beside}"));
            clashes(Files::default().writes_history("history", &path("h.sqlite")).writes("metrics", &metrics), 1);
        }
        clashes(Files::default().writes_history("history", &path("h.sqlite")), 0);
    }

    #[test]
    fn nights_take_their_own_folders_and_nothing_else_of_their_folder() {
        let nights = |other: &str| {
            let folder = Path::new("/somewhere/nights");
            Files::default().writes_nights("reports", folder).writes("metrics", &folder.join(other)).clashes().len()
        };
        for free in ["metrics.txt", "deep/metrics.txt", "../2026-03-01/x", "2026/x", "2026-13-01"] {
            assert_eq!(nights(free), 0, "{free}");
        }
        for taken in
            ["latest", ".lock", ".latest-new", "2026-03-01", "2026-03-01.2/night.json", "x/../2026-03-01/junit.xml"]
        {
            assert_eq!(nights(taken), 1, "{taken}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn links_of_all_kinds_are_resolved() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| folder.path().join(name);
        std::fs::write(path("rig.toml"), "").unwrap();
        std::fs::create_dir_all(path("deep/er")).unwrap();
        symlink("rig.toml", path("link")).unwrap();
        symlink("link", path("link to link")).unwrap();
        symlink("deep/er", path("folder")).unwrap();
        symlink("not there yet", path("dangling")).unwrap();
        symlink("circle", path("circle")).unwrap();
        std::fs::hard_link(path("rig.toml"), path("hard")).unwrap();
        // `..` after a link is the folder around what it leads to.
        for same in ["link", "link to link", "hard", "folder/../../rig.toml"] {
            clashes(Files::default().reads("a", &path("rig.toml")).writes("b", &path(same)), 1);
        }
        clashes(Files::default().reads("a", &path("rig.toml")).writes("b", &path("folder/../rig.toml")), 0);
        clashes(Files::default().writes("a", &path("dangling")).writes("b", &path("not there yet")), 1);
        clashes(Files::default().writes("a", &path("circle")).writes("b", &path("rig.toml")), 0);
    }
}
