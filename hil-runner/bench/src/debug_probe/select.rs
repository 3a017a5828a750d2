//! Which debug probe.

use std::str::FromStr;

use probe_rs::probe::list::{Accessibility, Lister};
use probe_rs::probe::{DebugProbeSelector, Probe};

use super::error::{ChipError, chain};

/// A debug probe that is connected.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Listed {
    /// What it calls itself.
    pub name: String,
    /// As a rig file names it.
    pub selector: String,
    /// Whether this user may use it.
    pub permitted: bool,
}

/// All debug probes that are connected.
#[must_use]
pub fn list() -> Vec<Listed> {
    let items = Lister::new().list_all_with_access();
    items
        .into_iter()
        .map(|item| {
            let info = &item.info;
            let serial = info.serial_number.as_ref().map_or(String::new(), |serial| format!(":{serial}"));
            Listed {
                name: info.identifier.clone(),
                selector: format!("{:04x}:{:04x}{serial}", info.vendor_id, info.product_id),
                permitted: item.accessibility == Accessibility::Accessible,
            }
        })
        .collect()
}

fn names(there: &[Listed]) -> String {
    there.iter().map(|listed| format!("{} ({})", listed.selector, listed.name)).collect::<Vec<_>>().join(", ")
}

/// Opens the debug probe that a rig file names, or the only one.
///
/// # Errors
/// [`ChipError`] if there is no such one, or it cannot be opened.
pub fn open_debug_probe(wanted: Option<&str>) -> Result<Probe, ChipError> {
    let selector = match wanted {
        Some(wanted) => wanted.to_owned(),
        None => match list().as_slice() {
            [] => return Err(ChipError::NoDebugProbe),
            [only] => only.selector.clone(),
            several => return Err(ChipError::SeveralDebugProbes { there: names(several) }),
        },
    };
    let parsed = DebugProbeSelector::from_str(&selector)
        .map_err(|error| ChipError::NotOpened { which: selector.clone(), why: chain(&error) })?;
    Lister::new().open(parsed).map_err(|error| why_not(&selector, &error))
}

/// Finds the reason among the probes that are connected.
fn why_not(selector: &str, error: &dyn std::error::Error) -> ChipError {
    let there = list();
    let wanted = selector.to_ascii_lowercase();
    match there.iter().find(|listed| listed.selector.to_ascii_lowercase().starts_with(&wanted)) {
        Some(found) if !found.permitted => ChipError::NotPermitted { which: found.selector.clone() },
        Some(found) => ChipError::NotOpened { which: found.selector.clone(), why: chain(error) },
        None if there.is_empty() => ChipError::NoDebugProbe,
        None => ChipError::NoSuchDebugProbe { wanted: selector.to_owned(), there: names(&there) },
    }
}
