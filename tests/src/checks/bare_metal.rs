//! The driver for chips without an operating system, one for each trap: no atomics, hardware floats, another architecture.

use super::rust::{DRIVER, package};
use crate::check::{Context, Report};
use crate::cross::Compiler;

/// The smallest chip, on which the size is measured.
pub const SMALLEST: &str = "thumbv6m-none-eabi";
const TARGETS: [&str; 3] = [SMALLEST, "thumbv7em-none-eabihf", "riscv32imac-unknown-none-elf"];

/// The feature that needs an operating system.
const HOSTED: &str = "std";

/// Builds the driver for every target with all features that need no operating system.
#[must_use]
pub fn bare_metal(context: &Context) -> Report {
    let mut report = Report::default();
    let Some(driver) = package(context, DRIVER) else {
        report.fail(format!("no package {DRIVER} in the workspace"));
        return report;
    };
    let features = driver.features.keys().map(String::as_str).filter(|name| ![HOSTED, "default"].contains(name));
    let features = features.collect::<Vec<_>>().join(",");
    for target in TARGETS {
        let Some(compiler) = compiler_for(target, context, &mut report) else { continue };
        let command = compiler
            .cargo("build", target, &context.root)
            .words("--release --package")
            .argument(DRIVER)
            .argument("--features")
            .argument(&features)
            .variable("CARGO_TARGET_DIR", folder_of_builds(context));
        if report.expect_success(target, &command).is_some() {
            report.note(format!("{target} ({})", compiler.name()));
        }
    }
    report
}

/// A compiler for `target`, or a failure that says what is missing.
pub fn compiler_for(target: &str, context: &Context, report: &mut Report) -> Option<Compiler> {
    match context.cross.compiler_for(target, &context.root, &context.target.join("bare-metal-compiler")) {
        Ok(compiler) => Some(compiler),
        Err(error) => {
            report.fail(error.to_string());
            None
        }
    }
}

/// Builds for bare metal lie apart, so that two compilers never meet in one folder with the builds for the host.
#[must_use]
pub fn folder_of_builds(context: &Context) -> String {
    context.target.join("bare-metal").display().to_string()
}
