//! From the file of a rig to the rig.

use super::virtual_line::open_virtual;
use super::{Bench, OpenError, Tracing};
use crate::rig::{Rig, RigKind};

/// Makes a rig ready. All that is random about it comes from `seed`.
///
/// # Errors
/// [`OpenError`] if it cannot be made ready.
pub fn open(rig: &Rig, seed: u64, tracing: Tracing) -> Result<Box<dyn Bench>, OpenError> {
    match &rig.kind {
        RigKind::Virtual(line) => open_virtual(rig, line, seed, tracing),
    }
}
