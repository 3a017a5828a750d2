//! Optional parts of the tool, and which of them this build contains.

use slotwise_terms::parts::{NotBuiltIn, Part};

/// Whether this build contains the part.
#[must_use]
pub const fn is_built_in(part: Part) -> bool {
    match part {
        Part::DebugProbe => cfg!(feature = "debug-probe"),
        Part::EmulatedChip => cfg!(feature = "emulated"),
        Part::SerialPorts => cfg!(feature = "serial"),
        Part::History => cfg!(feature = "history"),
        Part::Pages => cfg!(feature = "pages"),
        Part::LiveView => cfg!(feature = "view"),
    }
}

/// Refuses a part that this build does not contain.
///
/// # Errors
/// [`NotBuiltIn`].
pub const fn check(part: Part) -> Result<(), NotBuiltIn> {
    if is_built_in(part) { Ok(()) } else { Err(NotBuiltIn(part)) }
}
