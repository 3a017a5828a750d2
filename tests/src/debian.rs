//! Debian packages in a private folder: fetched and unpacked with the tools of the system, installed nowhere.
//!
//! Only the names of a few packages are fixed. Whatever else they need, and every version, comes from the package lists; if
//! the lists of the system are empty or out of date, a private copy is fetched.

use crate::command::Command;
use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// The compiler, without the packages that only an installed compiler needs.
const COMPILER: &str = "rustc-web";
/// The libraries that it runs with and links programs of the host against, and the source of the library.
const WITH_ALL_THEY_NEED: [&str; 2] = ["libstd-rust-web-dev", "rust-web-src"];

/// Why the packages are not there.
#[derive(Debug, Error)]
pub enum DebianError {
    /// A tool cannot be started, as on any system but Debian and its relatives.
    #[error("{tool} cannot be started ({source})")]
    Tool {
        /// Which.
        tool: String,
        /// Why not.
        source: io::Error,
    },
    /// A tool failed.
    #[error("{line} failed ({said})")]
    Failed {
        /// What was run.
        line: String,
        /// The last thing it said.
        said: String,
    },
    /// The private folder cannot be written to.
    #[error("{} cannot be written to ({source})", folder.display())]
    Folder {
        /// Which.
        folder: PathBuf,
        /// Why not.
        source: io::Error,
    },
}

/// A folder into which packages are unpacked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unpacked {
    folder: PathBuf,
}

/// The compiler with the source of its library, unpacked below `folder` unless it already is there and runs.
///
/// # Errors
///
/// Whatever keeps the packages from being there, in one line.
pub fn compiler_with_source(folder: &Path) -> Result<Unpacked, DebianError> {
    let unpacked = Unpacked { folder: folder.into() };
    let complete = folder.join("complete");
    if complete.exists() && unpacked.compiler_version().is_ok() {
        return Ok(unpacked);
    }
    make_empty(folder)?;
    unpacked.fetch(&[COMPILER], &WITH_ALL_THEY_NEED)?;
    let version = unpacked.compiler_version()?;
    fs::write(&complete, version).map_err(|source| DebianError::Folder { folder: complete, source })?;
    Ok(unpacked)
}

/// A program of the first of these packages, unpacked below `folder` with all that they need unless it already is there and runs; and
/// what it says of its version. The packages named are unpacked even where they are installed, what they need is not.
///
/// # Errors
///
/// Whatever keeps it from being there, in one line.
pub fn unpacked_program(folder: &Path, packages: &[&str], program: &str) -> Result<(Unpacked, String), DebianError> {
    let unpacked = Unpacked { folder: folder.into() };
    let version = || {
        let program = unpacked.program(program).display().to_string();
        let command = Command::new(&program, Path::new("/")).argument("--version");
        run(&command.variable("LD_LIBRARY_PATH", unpacked.library_path()))
    };
    let complete = folder.join("complete");
    if complete.exists()
        && let Ok(version) = version()
    {
        return Ok((unpacked, version));
    }
    make_empty(folder)?;
    unpacked.fetch(&[], packages)?;
    let version = version()?;
    fs::write(&complete, &version).map_err(|source| DebianError::Folder { folder: complete, source })?;
    Ok((unpacked, version))
}

impl Unpacked {
    /// The path of a program of an unpacked package.
    #[must_use]
    pub fn program(&self, name: &str) -> PathBuf {
        self.root().join("usr/bin").join(name)
    }

    /// The folder of the shared libraries.
    #[must_use]
    pub fn libraries(&self) -> PathBuf {
        let libraries = self.root().join("usr/lib");
        // The one folder named after a machine, such as x86_64-linux-gnu.
        let entries = libraries.read_dir().into_iter().flatten().flatten();
        let of_machine = entries.map(|entry| entry.path()).find(|path| path.to_string_lossy().ends_with("-linux-gnu"));
        of_machine.unwrap_or(libraries)
    }

    /// Every folder of shared libraries, as a search path. Some packages still have theirs outside of `usr`.
    #[must_use]
    pub fn library_path(&self) -> String {
        let libraries = self.libraries();
        let outside = libraries.file_name().map(|of_machine| self.root().join("lib").join(of_machine));
        // libpulse, which a browser needs, finds its private library by an absolute path that is not that of an unpacked package.
        let private = libraries.join("pulseaudio");
        let folders = [Some(libraries), outside, private.is_dir().then_some(private)].into_iter().flatten();
        folders.map(|folder| folder.display().to_string()).collect::<Vec<_>>().join(":")
    }

    /// Unpacks one more package with all that it needs.
    ///
    /// # Errors
    ///
    /// Whatever keeps the package from being there.
    pub fn with(&self, package: &str) -> Result<(), DebianError> {
        self.fetch(&[], &[package])
    }

    fn root(&self) -> PathBuf {
        self.folder.join("root")
    }

    fn lists(&self) -> PathBuf {
        self.folder.join("lists")
    }

    fn compiler_version(&self) -> Result<String, DebianError> {
        let rustc = self.program("rustc").display().to_string();
        let libraries = self.libraries().display().to_string();
        run(&Command::new(&rustc, Path::new("/")).words("-vV").variable("LD_LIBRARY_PATH", libraries))
    }

    fn fetch(&self, alone: &[&str], with_all_they_need: &[&str]) -> Result<(), DebianError> {
        let packages = self.folder.join("packages");
        make_empty(&packages)?;
        let lists = Lists::OfSystem;
        let downloaded = lists.download(&packages, alone, with_all_they_need);
        if let Err(DebianError::Failed { .. }) = downloaded {
            let lists = Lists::Private(self.lists());
            lists.update()?;
            make_empty(&packages)?;
            lists.download(&packages, alone, with_all_they_need)?;
        } else {
            downloaded?;
        }
        let entries = packages.read_dir().map_err(|source| DebianError::Folder { folder: packages.clone(), source })?;
        for entry in entries.flatten() {
            let package = entry.path().display().to_string();
            let root = self.root().display().to_string();
            run(&Command::new("dpkg", &packages).argument("-x").argument(package).argument(root))?;
        }
        // Kept, they would only fill the disk: what was in them is unpacked.
        for folder in [packages, self.lists()] {
            remove(&folder).map_err(|source| DebianError::Folder { folder, source })?;
        }
        Ok(())
    }
}

/// Which package lists are asked.
enum Lists {
    OfSystem,
    Private(PathBuf),
}

impl Lists {
    fn options(&self) -> Vec<String> {
        match self {
            Self::OfSystem => Vec::new(),
            Self::Private(folder) => {
                let options = [("Dir::State::lists", "lists"), ("Dir::Cache", "cache")];
                options
                    .iter()
                    .flat_map(|(key, name)| ["-o".into(), format!("{key}={}", folder.join(name).display())])
                    .collect()
            }
        }
    }

    fn tool(&self, name: &str, folder: &Path) -> Command {
        self.options().into_iter().fold(Command::new(name, folder), Command::argument)
    }

    fn update(&self) -> Result<(), DebianError> {
        if let Self::Private(folder) = self {
            for name in ["lists/partial", "cache/archives/partial"] {
                let folder = folder.join(name);
                fs::create_dir_all(&folder).map_err(|source| DebianError::Folder { folder, source })?;
            }
            run(&self.tool("apt-get", folder).argument("update"))?;
        }
        Ok(())
    }

    fn download(&self, folder: &Path, alone: &[&str], with_all_they_need: &[&str]) -> Result<(), DebianError> {
        let mut names: BTreeSet<String> = alone.iter().map(|name| (*name).to_owned()).collect();
        let question = self
            .tool("apt-cache", folder)
            .words("depends --recurse --no-recommends --no-suggests --no-conflicts --no-breaks --no-replaces --no-enhances")
            .words(&with_all_they_need.join(" "));
        for name in named_packages(&run(&question)?) {
            if with_all_they_need.contains(&name.as_str()) || !is_installed(&name) {
                names.insert(name);
            }
        }
        let download = self.tool("apt-get", folder).argument("download");
        run(&names.into_iter().fold(download, Command::argument))?;
        Ok(())
    }
}

/// The package names in the answer of `apt-cache depends`: the lines that are neither indented nor virtual.
fn named_packages(answer: &str) -> Vec<String> {
    let is_name = |line: &&str| line.starts_with(|c: char| c.is_ascii_lowercase() || c.is_ascii_digit());
    answer.lines().filter(is_name).map(|line| line.trim().to_owned()).collect()
}

fn is_installed(package: &str) -> bool {
    let question = Command::new("dpkg-query", Path::new("/")).words("-W -f ${db:Status-Abbrev}").argument(package);
    question.answer().is_some_and(|answer| answer.starts_with("ii"))
}

fn run(command: &Command) -> Result<String, DebianError> {
    let tool = command.program().to_owned();
    let ended = command.run().map_err(|source| DebianError::Tool { tool, source })?;
    if ended.success {
        return Ok(ended.output);
    }
    let said = ended.output.lines().rev().find(|line| !line.trim().is_empty()).unwrap_or("nothing said");
    Err(DebianError::Failed { line: command.line(), said: said.trim().into() })
}

fn make_empty(folder: &Path) -> Result<(), DebianError> {
    let made = remove(folder).and_then(|()| fs::create_dir_all(folder));
    made.map_err(|source| DebianError::Folder { folder: folder.into(), source })
}

/// Removes a folder with all that is in it, if it is there.
fn remove(folder: &Path) -> io::Result<()> {
    match fs::remove_dir_all(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn package_names_are_the_lines_without_indent() {
        let answer = "libstd-rust-web-dev\n  Depends: libstd-rust-web-1.99\nlibstd-rust-web-1.99\n  Depends: libllvm33\n\
                      libllvm33\n |Depends: <virtual>\n    libz\n<virtual>\nlibz\n";
        assert_eq!(named_packages(answer), ["libstd-rust-web-dev", "libstd-rust-web-1.99", "libllvm33", "libz"]);
    }

    #[test]
    fn private_lists_leave_those_of_the_system_alone() {
        let line = Lists::Private("/p".into()).tool("apt-get", Path::new("/")).argument("update").line();
        assert_eq!(line, "apt-get -o Dir::State::lists=/p/lists -o Dir::Cache=/p/cache update");
    }
}
