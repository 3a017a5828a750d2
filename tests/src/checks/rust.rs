//! What cargo itself can check: format, lints, documentation, tests, features and the minimum Rust.

use crate::check::{Context, Report};
use crate::command::Command;
use crate::figures;
use crate::test_output;
use cargo_metadata::Package;
use std::path::PathBuf;

/// The package of the driver.
pub const DRIVER: &str = "slotwise";
/// Packages outside the workspace, by the folder of their manifest.
const OWN_WORKSPACES: [&str; 2] = ["examples/chips", "tests/size-report"];
/// Cases of each property test in the long run; a short run has 256.
const LONG_CASES: &str = "4096";

fn cargo(context: &Context) -> Command {
    Command::new("cargo", &context.root)
}

/// Formatting, of every package.
#[must_use]
pub fn format(context: &Context) -> Report {
    let mut report = Report::default();
    if !has_component(context, "fmt", "rustfmt", &mut report) {
        return report;
    }
    report.expect_success("format", &cargo(context).words("fmt --all --check -- --color never"));
    for folder in OWN_WORKSPACES {
        let manifest = format!("{folder}/Cargo.toml");
        let command =
            cargo(context).words("fmt --all --check --manifest-path").argument(manifest).words("-- --color never");
        report.expect_success(&format!("format of {folder}"), &command);
    }
    report
}

/// Warnings of the compiler and of clippy, and whatever is newer than the minimum Rust.
#[must_use]
pub fn lints(context: &Context) -> Report {
    let mut report = Report::default();
    if !has_component(context, "clippy", "clippy", &mut report) {
        return report;
    }
    let command = cargo(context).words(
        "clippy --keep-going --workspace --all-targets --all-features -- -D warnings -D clippy::incompatible_msrv",
    );
    report.expect_success("clippy", &command);
    // "All" leaves out what `cargo test` alone does not run.
    let command = cargo(context)
        .words("clippy --workspace --all-features --test second_opinion -- -D warnings -D clippy::incompatible_msrv");
    report.expect_success("clippy of the second opinion", &command);
    report.failures.extend(too_new(context).into_iter().map(Into::into));
    report
}

/// The documentation.
#[must_use]
pub fn docs(context: &Context) -> Report {
    let mut report = Report::default();
    // With the examples, so that packages below have the features that they have for the lints, and are checked once.
    let command = cargo(context)
        .words("doc --keep-going --workspace --no-deps --all-features --lib --bins --examples")
        .variable("RUSTDOCFLAGS", "-D warnings");
    report.expect_success("documentation", &command);
    report
}

/// Every test of the workspace.
#[must_use]
pub fn tests(context: &Context) -> Report {
    test_output::run(&cargo(context).words("test --workspace --all-features --no-fail-fast"))
}

/// Every test once more, with many more cases of each property.
#[must_use]
pub fn long(context: &Context) -> Report {
    let command = cargo(context).words("test --workspace --all-features --no-fail-fast --release");
    test_output::run(&command.variable("PROPTEST_CASES", LONG_CASES))
}

/// The figures that hold on any machine, since they are counted in the time of the virtual line; and a list of those that do not.
#[must_use]
pub fn figures(context: &Context) -> Report {
    let mut report = Report::default();
    // Built as the tests are: virtual time does not depend on how well it is compiled.
    let command = cargo(context).words("test --workspace --all-features --bench bus_time");
    if let Some(output) = report.expect_success("a figure is missed", &command) {
        match output.lines().filter(|line| line.ends_with(" met")).count() {
            0 => report.fail("not one figure was measured"),
            count => report.note(format!("{count} bus times within their bounds")),
        }
        for (row, printed) in BUS_TIMES {
            let ratios = [72, 8].map(|mhz| largest_ratio(&output, printed, mhz).unwrap_or_else(|| "nothing".into()));
            figures::hold(&context.root, row, &ratios, &mut report);
        }
    }
    figures::list_by_hand(&context.root, &mut report);
    report
}

/// Rows of the page of figures, and how the lines begin that the bench prints for them.
const BUS_TIMES: [(&str, &str); 3] = [
    ("Match ROM + Read Scratchpad", "Match ROM + Read Scratchpad"),
    ("ROM search, per sensor", "ROM search, each of "),
    ("fresh 12-bit readings of 20 sensors", "fresh 12-bit readings of 20"),
];

/// The largest ratio of the lines that begin so, at this clock. The ratio is the last number but one.
fn largest_ratio(output: &str, start: &str, mhz: u32) -> Option<String> {
    let clock = format!(" {mhz} MHz ");
    let lines = output.lines().filter(|line| line.starts_with(start) && line.contains(&clock));
    let ratios = lines.filter_map(|line| line.split_whitespace().rev().nth(2));
    ratios.max_by(|one, other| one.len().cmp(&other.len()).then(one.cmp(other))).map(str::to_owned)
}

/// Builds the runner. With an example, so that it has what tests need and is the one that
/// the check "tests" builds: without, most packages below it would be compiled once more, with other features.
#[must_use]
pub fn runner(context: &Context, report: &mut Report) -> Option<PathBuf> {
    let command = cargo(context).words("build --workspace --all-features --bin hil-runner --example manual");
    report.expect_success("the runner", &command)?;
    Some(context.target.join("debug").join("hil-runner"))
}

/// The driver with no feature, with each alone, and with all.
#[must_use]
pub fn features(context: &Context) -> Report {
    let mut report = Report::default();
    let Some(driver) = package(context, DRIVER) else {
        report.fail(format!("no package {DRIVER} in the workspace"));
        return report;
    };
    let check = || cargo(context).words("check --no-default-features --package").argument(DRIVER);
    report.expect_success("no feature", &check());
    let names: Vec<&str> = driver.features.keys().map(String::as_str).filter(|name| *name != "default").collect();
    for name in &names {
        report.expect_success(&format!("feature {name} alone"), &check().argument("--features").argument(*name));
    }
    report.expect_success("all features", &check().argument("--all-features"));
    report.note(format!("none, {}, all", names.join(", ")));
    report
}

/// The workspace with the very toolchain that it names as its minimum.
#[must_use]
pub fn minimum_rust(context: &Context) -> Report {
    let mut report = Report::default();
    let Some(version) = minimum(context) else {
        report.fail(format!("package {DRIVER} names no rust-version"));
        return report;
    };
    let install = Command::new("rustup", &context.root).words("toolchain install --profile minimal").argument(&version);
    let has = Command::new("rustup", &context.root).words("run").argument(&version).words("rustc --version");
    if has.answer().is_none() && install.answer().is_none() {
        report.fail(format!("Rust {version} is missing: {} did not bring it", install.line()));
        return report;
    }
    let command = Command::new("rustup", &context.root)
        .argument("run")
        .argument(&version)
        .words("cargo check --workspace --all-features")
        .variable("CARGO_TARGET_DIR", context.target.join("minimum-rust").display().to_string());
    report.expect_success(&format!("Rust {version}"), &command);
    report.note(format!("Rust {version}"));
    report
}

/// Packages of which the workspace needs a version that asks for a newer Rust than it promises itself.
fn too_new(context: &Context) -> Vec<String> {
    let Some(minimum) = package(context, DRIVER).and_then(|driver| driver.rust_version.clone()) else {
        return vec![format!("package {DRIVER} names no rust-version")];
    };
    let newer = context.metadata.packages.iter().filter_map(|package| {
        let needs = package.rust_version.as_ref().filter(|needs| **needs > minimum)?;
        Some(format!("{} {} needs Rust {needs}, the project promises {minimum}", package.name, package.version))
    });
    newer.collect()
}

fn minimum(context: &Context) -> Option<String> {
    let version = package(context, DRIVER)?.rust_version.as_ref()?;
    Some(format!("{}.{}", version.major, version.minor))
}

/// A package of the workspace by its name.
#[must_use]
pub fn package<'a>(context: &'a Context, name: &str) -> Option<&'a Package> {
    context.metadata.workspace_packages().into_iter().find(|package| package.name == name)
}

/// Whether a component of the toolchain is there, after an attempt to fetch it.
fn has_component(context: &Context, verb: &str, component: &str, report: &mut Report) -> bool {
    let version = cargo(context).argument(verb).argument("--version");
    let add = Command::new("rustup", &context.root).words("component add").argument(component);
    if version.answer().is_some() || (add.answer().is_some() && version.answer().is_some()) {
        return true;
    }
    report.fail(format!("{component} is missing: {} did not bring it", add.line()));
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_ratio_of_a_clock_is_taken() {
        let output = "search, each of 1    72 MHz  13.803 ms  13.160 ms   1.049   1.06  met\n\
                      search, each of 8    72 MHz  13.713 ms  13.160 ms   1.042   1.06  met\n\
                      search, each of 8     8 MHz  13.713 ms  13.160 ms   1.061   1.10  met\n";
        assert_eq!(largest_ratio(output, "search", 72).as_deref(), Some("1.049"));
        assert_eq!(largest_ratio(output, "search", 8).as_deref(), Some("1.061"));
        assert_eq!(largest_ratio(output, "read", 8), None);
    }
}
