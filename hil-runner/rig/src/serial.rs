//! The serial adapter of a rig file.

use super::bridge::read_reference;
use super::keys;
use super::read::misplaced;
use super::{ModemLine, SerialRig};
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::Table;

/// The serial adapter that such a rig must have, and neither a bridge nor an invented line beside it.
pub(super) fn required_serial(top: &Table<'_, '_>) -> Read<SerialRig> {
    let port = top.required_name(&keys::SERIAL);
    let strong_pull_up = match top.entry(&keys::PULL_UP_LINE) {
        None => Ok(None),
        Some(_) => top.word(&keys::PULL_UP_LINE).map(|word| Some([ModemLine::Rts, ModemLine::Dtr][word])),
    };
    let reference = read_reference(top);
    misplaced(top, &keys::BRIDGE, "the driver runs on this computer; a bridge has a chip of its own")?;
    misplaced(top, &keys::LINE, "a real line is what it is")?;
    if let Some(entry) = top.entry(&keys::TIMING) {
        return Err(top.reader().report(entry.key_span.clone(), || {
            Report::contradiction("no timing set on a serial adapter", "one", "its slots have the times of its rates")
        }));
    }
    Ok(SerialRig { port: port?.to_owned(), strong_pull_up: strong_pull_up?, reference: reference? })
}

/// What only a rig on a serial adapter has at the top of its file.
pub(super) fn no_serial_keys(top: &Table<'_, '_>) -> Read<()> {
    for key in [&keys::SERIAL, &keys::PULL_UP_LINE, &keys::SERIAL_REFERENCE] {
        if let Some(entry) = top.entry(key) {
            return Err(top.reader().report(entry.key_span.clone(), || {
                let rule = format!("no {} here on a rig of this kind", key.name);
                Report::contradiction(rule, "one", "for kind = \"serial\" only")
            }));
        }
    }
    Ok(())
}
