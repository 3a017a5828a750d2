//! Signals: Ctrl-C and those of the same meaning, and the limits of this computer.

use std::io;

use super::ask::Refused;
use super::console::{Console, message};
use super::exit::Exit;
#[cfg(feature = "view")]
use super::watch::give_back;
use slotwise_terms::Stop;

/// A flag that the first Ctrl-C raises. The second ends the program at once, without results.
///
/// # Errors
/// If the system refuses, which has been reported.
pub(super) fn stop_on_interrupt(console: &Console) -> Result<Stop, Refused> {
    let stop = Stop::new();
    let flag = stop.clone();
    on_interrupt(move || {
        if flag.is_raised() {
            #[cfg(feature = "view")]
            give_back();
            std::process::exit(Exit::NotAllMet.code().into());
        }
        flag.raise();
        message("stopping; press Ctrl-C again to end at once");
    })
    .map_err(|error| {
        console.error(error);
        Refused(Exit::BadInput)
    })?;
    Ok(stop)
}

/// Calls `each` for Ctrl-C, and for the signals of a service manager and of a closed terminal.
#[cfg(unix)]
fn on_interrupt(mut each: impl FnMut() + Send + 'static) -> io::Result<()> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let mut signals = signal_hook::iterator::Signals::new([SIGINT, SIGTERM, SIGHUP])?;
    std::thread::Builder::new().name("signals".into()).spawn(move || signals.forever().for_each(|_| each()))?;
    Ok(())
}

/// Calls `each` for Ctrl-C.
#[cfg(not(unix))]
fn on_interrupt(each: impl FnMut() + Send + 'static) -> io::Result<()> {
    ctrlc::set_handler(each).map_err(io::Error::other)
}

/// Catches the signals of this computer's limits, so that they end in exit code 2 and not in the verdict that the rig
/// is broken: a write beyond the limit of file size fails like any other write, and running out of memory, which the
/// runtime reports before it aborts, exits with the code for lost results.
///
/// # Errors
/// The error of the system call.
pub(super) fn catch_limits() -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::sync::Arc;
        use std::sync::atomic::AtomicBool;

        use signal_hook::consts::{SIGABRT, SIGXFSZ};
        use signal_hook::flag::{register, register_conditional_shutdown};

        register(SIGXFSZ, Arc::default())?;
        let always = Arc::new(AtomicBool::new(true));
        register_conditional_shutdown(SIGABRT, Exit::BadInput.code().into(), always)?;
    }
    Ok(())
}
