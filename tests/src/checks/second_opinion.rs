//! A second opinion on firmware and carrier: an emulation of a chip that shares no code with ours runs our image, and the runner
//! talks to it through a pseudo-terminal. The tests are those of `tests/tests/second_opinion.rs`; what they need is made here.

use super::rust;
use crate::check::{Context, Report};
use crate::command::Command;
use crate::debian;
use crate::firmware::{BuildError, Carrier, Chip, build, panic_chain};
use crate::test_output;
use std::fs;
use std::path::{Path, PathBuf};

/// The chip, whose bus master is a UART.
const CHIP: Chip = Chip { name: "LM3S6965", program: "lm3s6965", target: "thumbv7m-none-eabi" };
const PACKAGE: &str = "slotwise-firmware-lm3s6965";
/// The function in which everything after start-up happens.
const ENTRY: &str = "slotwise_bridge_serve";
/// The emulator, and the package of Debian that holds it.
const EMULATOR: &str = "qemu-system-arm";

/// Where the emulator is.
struct Emulator {
    program: String,
    /// The search path of its libraries, if it is not installed.
    libraries: String,
    version: String,
}

/// Builds the image and the runner, finds the emulator, and runs the tests.
#[must_use]
pub fn second_opinion(context: &Context) -> Report {
    let mut report = Report::default();
    let image = image(context, &mut report);
    let runner = rust::runner(context, &mut report);
    let emulator = match emulator(&context.root, &context.target) {
        Ok(emulator) => emulator,
        Err(why) => {
            report.fail(why);
            return report;
        }
    };
    let (Some(image), Some(runner)) = (image, runner) else { return report };
    report.note(emulator.version);
    let command = cargo(context)
        .words("test --workspace --all-features --test second_opinion -- --test-threads 1")
        .variable("SLOTWISE_QEMU", emulator.program)
        .variable("SLOTWISE_QEMU_LIBRARIES", emulator.libraries)
        .variable("SLOTWISE_FIRMWARE", image.display().to_string())
        .variable("SLOTWISE_RUNNER", runner.display().to_string());
    let Report { notes, failures } = test_output::run(&command);
    report.notes.extend(notes);
    report.failures.extend(failures);
    report
}

fn cargo(context: &Context) -> Command {
    Command::new("cargo", &context.root)
}

/// The image, in a file of its own.
fn image(context: &Context, report: &mut Report) -> Option<PathBuf> {
    let built = match build(context, &CHIP, PACKAGE, CHIP.program, Carrier::Serial) {
        Ok(built) => built,
        Err(BuildError::Build(failure)) => {
            report.failures.push(failure);
            return None;
        }
        Err(error) => {
            report.fail(error.to_string());
            return None;
        }
    };
    match panic_chain(&built.elf, ENTRY) {
        Ok(None) => {}
        Ok(Some(chain)) => report.fail(format!("{}: the service can panic: {}", CHIP.program, chain.join(" -> "))),
        Err(error) => report.fail(format!("{}: {error}", CHIP.program)),
    }
    let path = context.target.join(format!("{}.elf", CHIP.program));
    match fs::write(&path, &built.elf) {
        Ok(()) => Some(path),
        Err(error) => {
            report.fail(format!("{} cannot be written ({error})", path.display()));
            None
        }
    }
}

/// The emulator of the system, or one from Debian's packages, unpacked below `target`.
fn emulator(root: &Path, target: &Path) -> Result<Emulator, String> {
    let first_line = |answer: String| answer.lines().next().unwrap_or_default().to_owned();
    if let Some(version) = Command::new(EMULATOR, root).argument("--version").answer().map(first_line) {
        return Ok(Emulator { program: EMULATOR.into(), libraries: String::new(), version });
    }
    let (unpacked, version) =
        debian::unpacked_program(&target.join("emulator"), &[EMULATOR], EMULATOR).map_err(|error| {
            format!("{EMULATOR} is not installed and cannot be had ({error}); on Debian: apt install {EMULATOR}")
        })?;
    Ok(Emulator {
        program: unpacked.program(EMULATOR).display().to_string(),
        libraries: unpacked.library_path(),
        version: first_line(version),
    })
}
