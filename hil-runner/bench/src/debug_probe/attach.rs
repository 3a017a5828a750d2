//! From a debug probe to a chip under control.

use probe_rs::config::Registry;
use probe_rs::probe::Probe;
use probe_rs::{Permissions, Session};

use super::chips::family_of;
use super::error::{ChipError, chain};

/// A chip under control.
pub struct Attached {
    pub(super) session: Session,
    pub(super) chip: String,
}

/// Attaches to a chip and makes sure that it is the right one.
///
/// # Errors
/// [`ChipError`] if there is none, another one, or one that is locked.
pub fn attach(mut debug_probe: Probe, chip: &str, wire_khz: Option<u32>) -> Result<Attached, ChipError> {
    let registry = Registry::from_builtin_families();
    let target = registry.get_target_by_name(chip).map_err(|_| unknown(&registry, chip))?;
    if let Some(khz) = wire_khz {
        debug_probe.set_speed(khz).map_err(|error| ChipError::WireSpeed { khz, why: chain(&error) })?;
    }
    let mut session = debug_probe.attach(target, Permissions::default()).map_err(|error| match error {
        probe_rs::Error::MissingPermissions(how) => ChipError::Locked { how },
        other => ChipError::NoChip { why: chain(&other) },
    })?;
    if let Some(family) = family_of(chip) {
        family.check(&mut session, chip)?;
    }
    Ok(Attached { session, chip: chip.to_owned() })
}

fn unknown(registry: &Registry, chip: &str) -> ChipError {
    let known: Vec<String> =
        registry.families().iter().flat_map(|family| family.variants()).map(|variant| variant.name.clone()).collect();
    let wanted = chip.to_ascii_uppercase();
    let distance = |name: &String| strsim::damerau_levenshtein(&wanted, &name.to_ascii_uppercase());
    let like = known.iter().min_by_key(|name| distance(name)).cloned();
    ChipError::UnknownChip { chip: chip.to_owned(), like }
}
