//! Signals of the system: Ctrl-C and those that mean the same; and limits of this computer, at which a program ends with an error and
//! code 2, not with the verdict that the rig is broken.

use std::io;

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
    on_interrupt(move || {
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

/// Calls this for Ctrl-C, and for the signals of a service manager and of a terminal that is closed.
#[cfg(unix)]
fn on_interrupt(mut each: impl FnMut() + Send + 'static) -> io::Result<()> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let mut signals = signal_hook::iterator::Signals::new([SIGINT, SIGTERM, SIGHUP])?;
    std::thread::Builder::new().name("signals".into()).spawn(move || signals.forever().for_each(|_| each()))?;
    Ok(())
}

/// Calls this for Ctrl-C.
#[cfg(not(unix))]
fn on_interrupt(each: impl FnMut() + Send + 'static) -> io::Result<()> {
    ctrlc::set_handler(each).map_err(io::Error::other)
}

/// Has the program live on when a file reaches the limit of its size, so that the write fails with an error like any other; and end with
/// the code for lost results when memory runs out, which the runtime reports on standard error before it aborts.
///
/// # Errors
/// That of the system.
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
