//! The time of a rig.

use std::time::{Duration, Instant};

/// Where time is taken from, and how a pause between two polls is made.
pub trait TimeSource {
    /// Time since the rig was made ready.
    fn now(&self) -> Duration;
    /// Between two polls.
    fn pause(&self);
}

/// The time on the wall.
#[derive(Clone, Copy, Debug)]
pub struct WallTime(Instant);

impl WallTime {
    /// From now on.
    #[must_use]
    pub fn start() -> Self {
        Self(Instant::now())
    }
}

impl TimeSource for WallTime {
    fn now(&self) -> Duration {
        self.0.elapsed()
    }

    fn pause(&self) {
        std::thread::sleep(Duration::from_millis(1));
    }
}
