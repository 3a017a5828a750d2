//! The wish of the user that a run ends.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A flag that many hold. Once raised it stays so.
#[derive(Clone, Debug, Default)]
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    /// A flag that is not raised.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Raises it.
    pub fn raise(&self) {
        self.0.store(true, Ordering::SeqCst);
    }

    /// Whether it is raised.
    #[must_use]
    pub fn is_raised(&self) -> bool {
        self.0.load(Ordering::SeqCst)
    }
}
