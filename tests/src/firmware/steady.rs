//! Makes a build the same in whatever folder it is done.
//!
//! Cargo gives each package a number that goes into the names of its functions, and the order of functions in an image follows
//! their names. For packages outside of the workspace that is built, as the driver is for the firmware, the number depends on the
//! folder. So this program stands between cargo and the compiler for such a build, and gives our packages numbers of their own.

use std::ffi::OsString;
use std::io;
use std::process::{Command, ExitCode};

/// The variable that says that this program is called in place of the compiler.
pub(super) const CALLED_AS_COMPILER: &str = "SLOTWISE_STEADY_NAMES";
/// How the names of our packages begin.
const OURS: &str = "slotwise";
/// How the argument with the number begins.
const NUMBER: &str = "metadata=";

/// Whether cargo has called this program in place of the compiler.
#[must_use]
pub fn is_called_as_compiler() -> bool {
    std::env::var_os(CALLED_AS_COMPILER).is_some()
}

/// Calls the compiler that the first argument names, with the arguments behind it.
///
/// # Errors
///
/// When it cannot be started.
pub fn compile() -> io::Result<ExitCode> {
    let mut arguments = std::env::args_os().skip(1);
    let compiler = arguments.next().ok_or(io::ErrorKind::InvalidInput)?;
    let package = std::env::var("CARGO_PKG_NAME").unwrap_or_default();
    let version = std::env::var("CARGO_PKG_VERSION").unwrap_or_default();
    let status = Command::new(compiler).args(steadied(arguments, &package, &version)).status()?;
    Ok(status.code().and_then(|code| u8::try_from(code).ok()).map_or(ExitCode::FAILURE, ExitCode::from))
}

/// The arguments with the number of our own packages made of name and version.
fn steadied(arguments: impl Iterator<Item = OsString>, package: &str, version: &str) -> Vec<OsString> {
    let steady = |argument: OsString| {
        let is_number = argument.to_str().is_some_and(|text| text.starts_with(NUMBER));
        if is_number && package.starts_with(OURS) { format!("{NUMBER}{package}-{version}").into() } else { argument }
    };
    arguments.map(steady).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steadied_for(package: &str) -> Vec<OsString> {
        steadied(["-C", "metadata=0123", "src/lib.rs"].map(OsString::from).into_iter(), package, "0.1.0")
    }

    #[test]
    fn only_our_own_packages_get_another_number() {
        assert_eq!(steadied_for("slotwise-bridge"), ["-C", "metadata=slotwise-bridge-0.1.0", "src/lib.rs"]);
        assert_eq!(steadied_for("postcard"), ["-C", "metadata=0123", "src/lib.rs"]);
    }
}
