//! What this computer runs short of, so that an error is not put down to something else.

use std::io;

/// Handles that must be left (chosen): a rig, a database and what lies beside it take that many.
const PIPES: usize = 4;

/// Why no more files, ports or probes can be opened, if so.
pub fn of_handles() -> Option<io::Error> {
    (0..PIPES).map(|_| io::pipe()).collect::<io::Result<Vec<_>>>().err()
}
