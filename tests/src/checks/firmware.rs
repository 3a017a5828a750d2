//! The bridge's firmware: every image builds, keeps to its budget and cannot panic, and the packed ones are those of the sources.
//!
//! Images made to be refused go through the same analysis, so that an analyser that has gone blind is noticed in the same run.

use crate::check::{Context, Report};
use crate::cross::Compiler;
use crate::figures;
use crate::firmware::{
    BuildError, Built, CHIPS, Carrier, FLASH_BUDGET, Identity, Manifest, PROGRAMS, Program, REFUSED, Role, WORKSPACE,
    build, fingerprint, hex_of, pack, panic_chain, stripped,
};
use crate::size::Image;
use std::fs;

/// The function in which everything after start-up happens.
const ENTRY: &str = "slotwise_bridge_serve";
/// Rows of the page of figures, by chip.
const ROWS: [(&str, &str); 3] = [
    ("STM32F103", "firmware with memory carrier and log, flash and statics: STM32F103"),
    ("nRF52833", "nRF52833"),
    ("RP2040", "RP2040"),
];
/// The line that packs the images anew.
const PACK: &str = "cargo checks --pack-firmware";

/// Builds, measures and compares.
#[must_use]
pub fn firmware(context: &Context) -> Report {
    let mut report = Report::default();
    let manifest = packed(context, &mut report);
    for program in &PROGRAMS {
        // A player's frames travel through the chip's memory alone.
        let carriers: &[Carrier] = if program.role == Role::Master { &Carrier::ALL } else { &[Carrier::Rtt] };
        for carrier in carriers {
            let package = format!("slotwise-firmware-{}", program.chip.program);
            match build(context, &program.chip, &package, program.name, *carrier) {
                Ok(built) => {
                    judge(program, *carrier, &built.elf, &mut report);
                    if let (Carrier::Rtt, Some(manifest)) = (carrier, &manifest) {
                        compare(context, program, &built, manifest, &mut report);
                    }
                }
                Err(error) => failed(error, &mut report),
            }
        }
    }
    for refused in &REFUSED {
        match build(context, &CHIPS[0], "slotwise-firmware-refused", refused.program, Carrier::Rtt) {
            Ok(built) => match panics(&built.elf) {
                Some(why) if why.contains(refused.said) => {}
                Some(why) => report.fail(format!("image {}: {why}", refused.program)),
                None => report.fail(format!("image {} has a fault that the analysis does not see", refused.program)),
            },
            Err(error) => failed(error, &mut report),
        }
    }
    report
}

/// Packs the images, for the command that does nothing else.
#[must_use]
pub fn pack_all(context: &Context) -> Report {
    let mut report = Report::default();
    match pack(context) {
        Ok(manifest) => {
            for image in manifest.images {
                report.note(format!("{} {} B of flash, {} B of statics", image.file, image.flash, image.statics));
            }
        }
        Err(crate::firmware::PackError::Build(error)) => failed(error, &mut report),
        Err(error) => report.fail(error.to_string()),
    }
    report
}

fn failed(error: BuildError, report: &mut Report) {
    match error {
        BuildError::Build(failure) => report.failures.push(failure),
        error => report.fail(error.to_string()),
    }
}

/// The list of the packed images, if it is there; complains if it is not that of the sources.
fn packed(context: &Context, report: &mut Report) -> Option<Manifest> {
    let folder = context.root.join(WORKSPACE).join("images");
    let manifest = match Manifest::read(&folder) {
        Ok(manifest) => manifest,
        Err(error) => {
            report.fail(format!("the packed images: {error}; pack them with: {PACK}"));
            return None;
        }
    };
    match fingerprint(&context.root) {
        Ok(now) if now == manifest.sources_sha256 => {}
        Ok(_) => report.fail(format!("the packed images are older than their sources; pack them with: {PACK}")),
        Err(error) => report.fail(format!("the sources of the firmware cannot be read ({error})")),
    }
    let version = context.metadata.workspace_packages().first().map(|package| package.version.to_string());
    if version.as_ref() != Some(&manifest.version) {
        report.fail(format!("the packed images have version {}, the project another", manifest.version));
    }
    for program in &PROGRAMS {
        if !manifest.images.iter().any(|image| image.chip == program.chip.name && image.role == program.role.name()) {
            let (chip, role) = (program.chip.name, program.role.name());
            report.fail(format!("no {role} image for the {chip} is packed; pack it with: {PACK}"));
        }
    }
    for image in &manifest.images {
        let row = ROWS.iter().find(|(chip, _)| *chip == image.chip);
        if let (Some((_, row)), true) = (row, image.role == Role::Master.name()) {
            let kilobytes = |bytes: u64| format!("{:.1} KB", bytes as f64 / 1e3);
            let cell = format!("{}, {}", kilobytes(image.flash), kilobytes(image.statics));
            figures::hold(&context.root, row, &[cell], report);
        }
        match fs::read(folder.join(&image.file)) {
            Ok(bytes) if hex_of(&bytes) == image.sha256 => {}
            Ok(_) => report.fail(format!("{} is not the file that the list describes", image.file)),
            Err(error) => report.fail(format!("{} cannot be read ({error})", image.file)),
        }
    }
    Some(manifest)
}

/// Compares an image with the packed one, where the compiler is the same.
fn compare(context: &Context, program: &Program, built: &Built, manifest: &Manifest, report: &mut Report) {
    let file = program.file();
    if built.rustc != manifest.rustc {
        report.note(format!("{file} not compared: packed with {}, built with {}", manifest.rustc, built.rustc));
        return;
    }
    if built.compiler != Compiler::Installed {
        report.note(format!("{file} not compared: its library was built from source"));
        return;
    }
    let path = context.root.join(WORKSPACE).join("images").join(&file);
    match (stripped(&built.elf), fs::read(path)) {
        (Ok(now), Ok(packed)) if now == packed => report.note(format!("{file} is that of the sources")),
        (Ok(_), Ok(_)) => report.fail(format!("{file} is not what its sources make; pack it with: {PACK}")),
        (Err(error), _) => report.fail(format!("{file}: {error}")),
        // Said before.
        (_, Err(_)) => {}
    }
}

/// Puts an image against the budget, and looks for panics.
fn judge(program: &Program, carrier: Carrier, elf: &[u8], report: &mut Report) {
    let name = format!("{} {}", program.name, carrier.name());
    let statics_budget = program.role.statics_budget();
    match Image::read(elf) {
        Ok(Image { flash, statics, .. }) => {
            report.note(format!("{name} {flash} B flash, {statics} B statics"));
            for (what, measured, budget) in [("flash", flash, FLASH_BUDGET), ("statics", statics, statics_budget)] {
                if measured > budget {
                    report.fail(format!("{name} is over the budget: {what} {measured} of {budget} B"));
                }
            }
        }
        Err(error) => report.fail(format!("{name}: {error}")),
    }
    match Identity::read(elf) {
        Ok(identity) if identity.chip == program.chip.name && identity.role == program.role => {}
        Ok(identity) if identity.chip == program.chip.name => {
            report.fail(format!("{name}: the image says that it is a {}", identity.role.name()));
        }
        Ok(identity) => report.fail(format!("{name}: the image says that it is for {}", identity.chip)),
        Err(error) => report.fail(format!("{name}: {error}")),
    }
    if let Some(why) = panics(elf) {
        report.fail(format!("{name}: {why}"));
    }
}

/// The failure if the service of an image can panic, or if its calls cannot be followed.
fn panics(elf: &[u8]) -> Option<String> {
    match panic_chain(elf, ENTRY) {
        Ok(None) => None,
        Ok(Some(chain)) => Some(format!("the service can panic: {}", chain.join(" -> "))),
        Err(error) => Some(error.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_image_that_is_none_is_a_failure() {
        let mut report = Report::default();
        judge(&PROGRAMS[0], Carrier::Serial, b"no image", &mut report);
        let said: Vec<&str> = report.failures.iter().map(|failure| failure.what.as_str()).collect();
        assert_eq!(said, ["stm32f103 serial: not a 32-bit ELF file"; 3]);
    }
}
