//! What fits into the tables of a line: on a narrow terminal fewer columns, so that no word is cut.

use crate::{TextLook, nothing};

/// With less than this the longest rows of the margins do not fit in one line (counted).
const WIDE: usize = 110;
/// With less than this not even those without what each limit is held against (counted).
const NARROW: usize = 70;
/// The name of a limit where there is little room: as wide as its longest words.
const NARROW_NAME: usize = 16;
/// The name of a sensor where there is little room: as wide as its ROM code.
const ROM_CODE: usize = 18;

/// Whether there is little room.
pub(super) fn is_narrow(look: &TextLook) -> bool {
    look.width.is_some_and(|width| width < NARROW)
}

/// A cell for which there may be too little room.
pub(super) fn where_not_narrow(look: &TextLook, cell: String) -> String {
    if is_narrow(look) { nothing() } else { cell }
}

/// A cell for which there must be much room.
pub(super) fn where_wide(look: &TextLook, cell: &str) -> String {
    if look.width.is_some_and(|width| width < WIDE) { nothing() } else { cell.into() }
}

/// The name of a limit.
pub(super) fn limit(look: &TextLook, name: &str) -> String {
    if is_narrow(look) { textwrap::fill(name, NARROW_NAME) } else { name.into() }
}

/// The name of a sensor.
pub(super) fn name(look: &TextLook, name: &str) -> String {
    if is_narrow(look) { textwrap::fill(name, ROM_CODE) } else { name.into() }
}
