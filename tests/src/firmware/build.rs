//! Building an image, the same whatever folder it is built in.

use super::images::{Carrier, Chip, PROGRAMS, Role, WORKSPACE};
use super::steady::CALLED_AS_COMPILER;
use crate::check::{Context, Failure};
use crate::command::Command;
use crate::cross::{Compiler, CrossError};
use std::io;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// A linked image.
#[derive(Debug, Clone)]
pub struct Built {
    /// The ELF file, with all symbols.
    pub elf: Vec<u8>,
    /// The first line that its compiler prints about itself.
    pub rustc: String,
    /// How the library came to it.
    pub compiler: Compiler,
}

/// Why there is no image.
#[derive(Debug, Error)]
pub enum BuildError {
    /// No compiler.
    #[error(transparent)]
    Compiler(#[from] CrossError),
    /// The build failed.
    #[error("{}", .0.what)]
    Build(Failure),
    /// The build succeeded and left nothing.
    #[error("{path} cannot be read")]
    Read {
        /// The image.
        path: PathBuf,
        /// Why not.
        source: io::Error,
    },
}

/// Builds the program called `program` of `package` as for `chip`.
///
/// # Errors
///
/// Whatever keeps it from being built.
pub fn build(
    context: &Context,
    chip: &Chip,
    package: &str,
    program: &str,
    carrier: Carrier,
) -> Result<Built, BuildError> {
    let folder = context.target.join("bare-metal-compiler");
    let compiler = context.cross.compiler_for(chip.target, &context.root, &folder)?;
    // Apart from other builds for bare metal, whose flags are others. All images share what they have in common.
    let target = context.target.join("bare-metal").join("images");
    let workspace = context.root.join(WORKSPACE);
    let command = compiler
        .cargo("build", chip.target, &context.root)
        .words("--release --locked --package")
        .argument(package)
        .words("--bin")
        .argument(program)
        .variable("CARGO_TARGET_DIR", target.display().to_string())
        // As in the workspace's own configuration, which a variable of the user would win over.
        .variable("DEFMT_LOG", "debug")
        .variable("CARGO_ENCODED_RUSTFLAGS", format!("{}{}", remapped(&context.root), flags_of(chip.target)))
        .variable("RUSTC_WRAPPER", context.itself.display().to_string())
        .variable(CALLED_AS_COMPILER, "1")
        .within(&workspace);
    let command = match carrier {
        Carrier::Rtt => command,
        Carrier::Serial => command.words("--features serial"),
    };
    let is_player = PROGRAMS.iter().any(|known| known.role == Role::Player && known.name == program);
    let command = if is_player { command.words("--features player") } else { command };
    let what = format!("the image {program}, {}", carrier.name());
    match command.run() {
        Ok(ended) if ended.success => {}
        Ok(ended) => return Err(BuildError::Build(Failure::of(&what, &ended, &command))),
        Err(error) => return Err(BuildError::Build(Failure::from(format!("{what}: {error}")))),
    }
    let path = target.join(chip.target).join("release").join(program);
    let elf = std::fs::read(&path).map_err(|source| BuildError::Read { path, source })?;
    let rustc = rustc_version(&compiler, &context.root);
    Ok(Built { elf, rustc, compiler })
}

/// What a compiler says of its version.
#[must_use]
pub fn rustc_version(compiler: &Compiler, root: &Path) -> String {
    let command = match compiler {
        Compiler::Installed => Command::new("rustc", root),
        Compiler::FromSource { rustc, libraries, .. } => Command::new(&rustc.display().to_string(), root)
            .variable("LD_LIBRARY_PATH", libraries.display().to_string()),
    };
    command.words("--version").answer().unwrap_or_default().trim().to_owned()
}

/// What the workspace's own configuration gives the compiler for a target; the variable wins over it.
fn flags_of(target: &str) -> &'static str {
    if target == "thumbv6m-none-eabi" { "\x1f-Cllvm-args=--inline-threshold=150" } else { "" }
}

/// Flags that keep the folders of the building machine out of the image.
fn remapped(root: &Path) -> String {
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home.or_else(|| std::env::home_dir().map(|home| home.join(".cargo")));
    let folders = [(Some(root.to_path_buf()), "/slotwise"), (home.map(|home| home.join("registry/src")), "/crates")];
    let flags = folders.iter().filter_map(|(folder, name)| {
        folder.as_ref().map(|folder| format!("--remap-path-prefix={}={name}", folder.display()))
    });
    // The separator of this variable: paths may hold spaces.
    flags.collect::<Vec<_>>().join("\x1f")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_of_the_machine_are_given_other_names() {
        let flags = remapped(Path::new("/home/a b/slotwise"));
        assert!(flags.starts_with("--remap-path-prefix=/home/a b/slotwise=/slotwise\x1f"), "{flags}");
        assert!(flags.ends_with("registry/src=/crates"), "{flags}");
    }
}
