//! The `hil-runner` program. All of it is in the library beside it.

use std::process::ExitCode;

fn main() -> ExitCode {
    hil_runner::cli::main().into()
}
