//! A compiler for bare metal: the targets of rustup where they can be had, else `core` built from Debian's packages of the
//! library source, unpacked into a private folder without any right beyond that folder.

use crate::command::Command;
use crate::debian::{self, Unpacked};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// How to come by a compiler for bare metal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Cross {
    /// rustup's targets; where they cannot be had, the source.
    Auto,
    /// rustup's targets or nothing.
    Rustup,
    /// The library source or nothing.
    Source,
}

/// What is missing.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CrossError {
    /// rustup was to bring the target, and did not.
    #[error("the library of target {target} is missing: {why}")]
    Rustup {
        /// The target.
        target: String,
        /// What rustup said.
        why: String,
    },
    /// The library source was to be built, and is not there.
    #[error("the library source is missing: {0}")]
    Source(String),
    /// Neither way.
    #[error("{rustup}; {debian}")]
    Neither {
        /// Why not the first way.
        rustup: String,
        /// Why not the second.
        debian: String,
    },
}

/// A way to build for a target.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Compiler {
    /// The compiler in use has the target's library.
    Installed,
    /// Another compiler builds the library from source.
    FromSource {
        /// Its compiler.
        rustc: PathBuf,
        /// Its shared libraries.
        libraries: PathBuf,
        /// A linker for the images.
        linker: PathBuf,
    },
}

impl Cross {
    /// A compiler for `target`, fetched if need be. Private files go under `folder`.
    ///
    /// # Errors
    ///
    /// What is missing, in one line.
    pub fn compiler_for(self, target: &str, root: &Path, folder: &Path) -> Result<Compiler, CrossError> {
        match self {
            Self::Rustup => installed(target, root),
            Self::Source => from_source(root, folder),
            Self::Auto => installed(target, root).or_else(|rustup| {
                from_source(root, folder)
                    .map_err(|source| CrossError::Neither { rustup: rustup.to_string(), debian: source.to_string() })
            }),
        }
    }
}

impl Compiler {
    /// `cargo VERB --target TARGET`, with all that this compiler needs.
    #[must_use]
    pub fn cargo(&self, verb: &str, target: &str, root: &Path) -> Command {
        let command = Command::new("cargo", root).argument(verb).argument("--target").argument(target);
        match self {
            Self::Installed => command,
            Self::FromSource { rustc, libraries, linker } => {
                let of_target = target.to_uppercase().replace('-', "_");
                command
                    .argument("-Zbuild-std=core")
                    .variable("RUSTC_BOOTSTRAP", "1")
                    .variable("RUSTC", rustc.display().to_string())
                    .variable("LD_LIBRARY_PATH", libraries.display().to_string())
                    .variable(&format!("CARGO_TARGET_{of_target}_LINKER"), linker.display().to_string())
            }
        }
    }

    /// A few words for the report.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Installed => "installed target",
            Self::FromSource { .. } => "core from source",
        }
    }
}

fn has_library(target: &str, root: &Path) -> bool {
    let folder = Command::new("rustc", root).words("--print target-libdir --target").argument(target).answer();
    let Some(entries) = folder.and_then(|folder| Path::new(folder.trim()).read_dir().ok()) else { return false };
    entries.flatten().any(|entry| entry.file_name().to_string_lossy().starts_with("libcore-"))
}

fn installed(target: &str, root: &Path) -> Result<Compiler, CrossError> {
    if has_library(target, root) {
        return Ok(Compiler::Installed);
    }
    let missing = |why: String| CrossError::Rustup { target: target.into(), why };
    let add = Command::new("rustup", root).words("target add").argument(target);
    match add.run() {
        Err(error) => Err(missing(format!("rustup cannot be started ({error})"))),
        Ok(ended) if !ended.success => {
            let said = ended.output.lines().rev().find(|line| !line.trim().is_empty()).unwrap_or("nothing said");
            Err(missing(format!("{} failed ({})", add.line(), said.trim())))
        }
        Ok(_) if has_library(target, root) => Ok(Compiler::Installed),
        Ok(_) => Err(missing("the rustc in use is not the one that rustup keeps".into())),
    }
}

fn from_source(root: &Path, folder: &Path) -> Result<Compiler, CrossError> {
    let unpacked = debian::compiler_with_source(folder).map_err(|error| CrossError::Source(error.to_string()))?;
    let linker = linker(root, &unpacked).map_err(CrossError::Source)?;
    Ok(Compiler::FromSource { rustc: unpacked.program("rustc"), libraries: unpacked.libraries(), linker })
}

/// The linker that comes with the compiler in use, or one on the search path, or Debian's.
fn linker(root: &Path, unpacked: &Unpacked) -> Result<PathBuf, String> {
    let beside_libraries = Command::new("rustc", root).words("--print target-libdir").answer();
    if let Some(libraries) = beside_libraries {
        let linker = Path::new(libraries.trim()).with_file_name("bin").join("rust-lld");
        if linker.exists() {
            return Ok(linker);
        }
    }
    let on_path = std::env::var_os("PATH").unwrap_or_default();
    if let Some(linker) = std::env::split_paths(&on_path).map(|folder| folder.join("ld.lld")).find(|path| path.exists())
    {
        return Ok(linker);
    }
    unpacked.with("lld").map_err(|error| error.to_string())?;
    Ok(unpacked.program("ld.lld"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_target_is_named_as_missing() {
        let nowhere = Path::new("/tmp");
        let error = Cross::Rustup.compiler_for("thumbv0-none-eabi", nowhere, nowhere).unwrap_err().to_string();
        assert!(error.starts_with("the library of target thumbv0-none-eabi is missing: "), "{error}");
        assert_eq!(error.lines().count(), 1, "{error}");
    }

    #[test]
    fn a_compiler_that_builds_the_library_says_how() {
        let compiler = Compiler::FromSource { rustc: "/r".into(), libraries: "/l".into(), linker: "/k".into() };
        let line = compiler.cargo("build", "thumbv6m-none-eabi", Path::new("/tmp")).line();
        assert_eq!(
            line,
            "RUSTC_BOOTSTRAP=1 RUSTC=/r LD_LIBRARY_PATH=/l CARGO_TARGET_THUMBV6M_NONE_EABI_LINKER=/k \
             cargo build --target thumbv6m-none-eabi -Zbuild-std=core"
        );
    }
}
