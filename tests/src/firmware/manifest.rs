//! The list of the packed images, as a file beside them.

use serde::{Deserialize, Serialize};
use std::fs;
use std::io;
use std::path::Path;
use thiserror::Error;

/// The file's name.
pub(super) const NAME: &str = "images.toml";
/// The file's first line.
const HEAD: &str = "# Written by `cargo checks --pack-firmware`, as are the images beside it.\n\n";

/// What is known of the packed images.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// Version of the firmware.
    pub version: String,
    /// Protocol version of its frames.
    pub protocol: u8,
    /// The compiler, as it names itself.
    pub rustc: String,
    /// Fingerprint of the sources.
    pub sources_sha256: String,
    /// The images.
    #[serde(rename = "image")]
    pub images: Vec<Packed>,
}

/// A packed image.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Packed {
    /// The chip, as the host sees it.
    pub chip: String,
    /// What it does on the line: `master` or `player`.
    pub role: String,
    /// The file.
    pub file: String,
    /// How its frames travel.
    pub carrier: String,
    /// The target it was built for.
    pub target: String,
    /// SHA-256 of the file.
    pub sha256: String,
    /// Bytes of flash.
    pub flash: u64,
    /// Bytes of memory taken by statics.
    pub statics: u64,
}

/// Why the list cannot be had.
#[derive(Debug, Error)]
pub enum ManifestError {
    /// It cannot be read or written.
    #[error("{NAME}: {0}")]
    File(#[from] io::Error),
    /// It does not say what it should.
    #[error("{NAME}: {}", .0.message())]
    Content(#[from] toml::de::Error),
    /// It cannot be put into words.
    #[error("{NAME}: {0}")]
    Words(#[from] toml::ser::Error),
}

impl Manifest {
    /// Reads the list in a folder.
    ///
    /// # Errors
    ///
    /// When it is not there, or says something else.
    pub fn read(folder: &Path) -> Result<Self, ManifestError> {
        Ok(toml::from_str(&fs::read_to_string(folder.join(NAME))?)?)
    }

    /// Writes the list into a folder.
    ///
    /// # Errors
    ///
    /// When it cannot.
    pub fn write(&self, folder: &Path) -> Result<(), ManifestError> {
        fs::write(folder.join(NAME), format!("{HEAD}{}", toml::to_string(self)?))?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "version = \"0.1.0\"\nprotocol = 1\nrustc = \"rustc 1.95.0\"\nsources_sha256 = \"ab\"\n\n[[image]]\n\
        chip = \"STM32F103\"\nrole = \"master\"\nfile = \"stm32f103.elf\"\ncarrier = \"rtt\"\ntarget = \"thumbv7m-none-eabi\"\nsha256 = \"cd\"\n\
        flash = 37468\nstatics = 3324\n";

    #[test]
    fn a_list_is_written_as_it_is_read() {
        let manifest: Manifest = toml::from_str(TEXT).unwrap();
        assert_eq!(manifest.images[0].statics, 3324);
        assert_eq!(toml::to_string(&manifest).unwrap(), TEXT);
    }

    #[test]
    fn a_list_with_a_strange_or_missing_line_is_refused() {
        assert!(toml::from_str::<Manifest>(&format!("colour = 1\n{TEXT}")).is_err());
        assert!(toml::from_str::<Manifest>(&TEXT.replace("flash = 37468\n", "")).is_err());
    }
}
