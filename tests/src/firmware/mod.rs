//! The bridge's firmware: building its images, packing them, and telling whether a packed image is still the one of its sources.

mod branch;
mod build;
mod identity;
mod images;
mod manifest;
mod pack;
mod reach;
mod sources;
mod steady;
mod strip;

pub use branch::{Branch, Step, step};
pub use build::{BuildError, Built, build, rustc_version};
pub use identity::{Identity, IdentityError};
pub use images::{
    CHIPS, Carrier, Chip, FLASH_BUDGET, PLAYER_STATICS_BUDGET, PROGRAMS, Program, REFUSED, Refused, Role,
    STATICS_BUDGET, WORKSPACE,
};
pub use manifest::{Manifest, ManifestError, Packed};
pub use pack::{PackError, pack};
pub use reach::{ReachError, panic_chain};
pub use sources::{fingerprint, hex_of, of_files};
pub use steady::{compile, is_called_as_compiler};
pub use strip::{StripError, stripped};
