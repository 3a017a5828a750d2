//! Builds every image and packs it: what users flash, and what the list beside it says of it.

use super::build::{BuildError, build};
use super::identity::{Identity, IdentityError};
use super::images::{Carrier, PROGRAMS, WORKSPACE};
use super::manifest::{Manifest, ManifestError, Packed};
use super::sources::{fingerprint, hex_of};
use super::strip::{StripError, stripped};
use crate::check::Context;
use crate::size::{Image, ImageError};
use std::io;
use thiserror::Error;

/// Why the images were not packed.
#[derive(Debug, Error)]
pub enum PackError {
    /// One was not built.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// One cannot be rewritten.
    #[error(transparent)]
    Strip(#[from] StripError),
    /// One cannot be read.
    #[error(transparent)]
    Image(#[from] ImageError),
    /// One does not say what it is.
    #[error("{file}: {source}")]
    Identity {
        /// Which.
        file: &'static str,
        /// What is wrong.
        source: IdentityError,
    },
    /// Images or sources cannot be read or written.
    #[error("{0}")]
    File(#[from] io::Error),
    /// The list cannot be written.
    #[error(transparent)]
    Manifest(#[from] ManifestError),
}

/// Builds and packs all images. Returns what the list now says.
///
/// # Errors
///
/// Whatever keeps one of them from being packed; the list is then as before.
pub fn pack(context: &Context) -> Result<Manifest, PackError> {
    let folder = context.root.join(WORKSPACE).join("images");
    let mut manifest = Manifest {
        version: String::new(),
        protocol: 0,
        rustc: String::new(),
        sources_sha256: fingerprint(&context.root)?,
        images: Vec::new(),
    };
    let mut files = Vec::new();
    for program in &PROGRAMS {
        let chip = &program.chip;
        let package = format!("slotwise-firmware-{}", chip.program);
        let built = build(context, chip, &package, program.name, Carrier::Rtt)?;
        let identity =
            Identity::read(&built.elf).map_err(|source| PackError::Identity { file: program.name, source })?;
        let sizes = Image::read(&built.elf)?;
        let packed = stripped(&built.elf)?;
        manifest.version = identity.version;
        manifest.protocol = identity.protocol;
        manifest.rustc = built.rustc;
        let file = program.file();
        manifest.images.push(Packed {
            chip: chip.name.into(),
            role: program.role.name().into(),
            file: file.clone(),
            carrier: Carrier::Rtt.name().into(),
            target: chip.target.into(),
            sha256: hex_of(&packed),
            flash: sizes.flash,
            statics: sizes.statics,
        });
        files.push((file, packed));
    }
    std::fs::create_dir_all(&folder)?;
    for (file, packed) in files {
        std::fs::write(folder.join(file), packed)?;
    }
    manifest.write(&folder)?;
    Ok(manifest)
}
