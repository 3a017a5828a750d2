//! Limits of this computer: a program that meets one ends with an error and code 2, not with the verdict that the rig is broken.

use std::io;

use super::exit::Exit;

/// Has the program live on when a file reaches the limit of its size, so that the write fails with an error like any other; and end with
/// the code for lost results when memory runs out, which the runtime reports on standard error before it aborts.
///
/// # Errors
/// That of the system.
pub(super) fn catch() -> io::Result<()> {
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
