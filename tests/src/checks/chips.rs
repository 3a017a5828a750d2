//! The example of each chip: all build for their targets, none is left out, and what they link is free to use.

use super::bare_metal::{compiler_for, folder_of_builds};
use super::licences::unfree;
use crate::check::{Context, Report};
use crate::size::Image;
use std::fs;
use std::path::Path;

/// The workspace of the examples.
const WORKSPACE: &str = "examples/chips";

/// The programs of one package, all for one target.
struct Example {
    package: &'static str,
    target: &'static str,
    programs: &'static [&'static str],
}

const EXAMPLES: [Example; 5] = [
    Example { package: "stm32f103", target: "thumbv7m-none-eabi", programs: &["stm32f103", "two-lines"] },
    Example { package: "rp2040", target: "thumbv6m-none-eabi", programs: &["rp2040"] },
    Example { package: "rp2040-async", target: "thumbv6m-none-eabi", programs: &["rp2040-async"] },
    Example { package: "nrf52833", target: "thumbv7em-none-eabihf", programs: &["nrf52833"] },
    Example { package: "esp32c3", target: "riscv32imc-unknown-none-elf", programs: &["esp32c3"] },
];

/// Builds them all.
#[must_use]
pub fn chips(context: &Context) -> Report {
    let mut report = Report::default();
    let folder = context.root.join(WORKSPACE);
    judge_packages(&folder, &mut report);
    for Example { package, target, programs } in EXAMPLES {
        let Some(compiler) = compiler_for(target, context, &mut report) else { continue };
        let command = compiler
            .cargo("build", target, &context.root)
            .words("--release --locked --package")
            .argument(format!("slotwise-example-{package}"))
            .variable("CARGO_TARGET_DIR", folder_of_builds(context))
            .within(&folder);
        let Some(output) = report.expect_success(package, &command) else { continue };
        if output.lines().any(|line| line.starts_with("warning: ") && line.contains("slotwise-example")) {
            report.fail(format!("{package} builds with warnings; repeat with: {}", command.line()));
        }
        for program in programs {
            let path = Path::new(&folder_of_builds(context)).join(target).join("release").join(program);
            match fs::read(&path).map_err(|error| error.to_string()).map(|elf| Image::read(&elf)) {
                Ok(Ok(image)) if image.flash > 0 => report.note(format!("{program} {} B", image.flash)),
                Ok(Ok(_)) => report.fail(format!("{program} is an empty image")),
                Ok(Err(error)) => report.fail(format!("{program}: {error}")),
                Err(error) => report.fail(format!("{} cannot be read ({error})", path.display())),
            }
        }
    }
    report
}

/// Every package of the workspace is among the examples, and has a licence that lets people link it.
fn judge_packages(folder: &Path, report: &mut Report) {
    let metadata = cargo_metadata::MetadataCommand::new()
        .manifest_path(folder.join("Cargo.toml"))
        .other_options(["--locked".to_owned()])
        .exec();
    match metadata {
        Ok(metadata) => {
            for package in metadata.workspace_packages() {
                let programs = package.targets.iter().filter(|target| target.is_bin());
                for program in programs {
                    if !EXAMPLES.iter().any(|example| example.programs.contains(&program.name.as_str())) {
                        report.fail(format!(
                            "{} of {} is not among the examples that are built",
                            program.name, package.name
                        ));
                    }
                }
            }
            report.failures.extend(unfree(&metadata).1.into_iter().map(Into::into));
        }
        Err(error) => report.fail(format!("{WORKSPACE}: {error}")),
    }
}
