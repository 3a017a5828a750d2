//! Ctrl-C and the signals that mean the same.

use super::ask::Refused;
use super::console::{Console, tell};
use super::exit::Exit;
#[cfg(feature = "view")]
use super::watch::give_back;
use slotwise_terms::Stop;

/// A flag that the first Ctrl-C raises. The second ends the program at once, without results.
///
/// # Errors
/// If the system refuses; that has been told.
pub(super) fn stop_on_interrupt(console: &Console) -> Result<Stop, Refused> {
    let stop = Stop::new();
    let flag = stop.clone();
    ctrlc::set_handler(move || {
        if flag.is_raised() {
            #[cfg(feature = "view")]
            give_back();
            std::process::exit(Exit::NotAllMet.code().into());
        }
        flag.raise();
        tell("stopping; once more to end at once");
    })
    .map_err(|error| {
        console.error(error);
        Refused(Exit::BadInput)
    })?;
    Ok(stop)
}
