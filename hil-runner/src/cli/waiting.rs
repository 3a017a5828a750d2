//! A sign of life on a terminal while something takes long.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use slotwise_report::{Characters, TextLook};

/// The sign moves so often, whatever else happens: silence on a terminal is never longer than two seconds.
const TICK: Duration = Duration::from_millis(250);

/// A line on standard error that moves, says how long it has been there, and is gone when this is dropped. It shows nothing unless that
/// is a terminal.
pub(super) struct Waiting(ProgressBar);

impl Waiting {
    /// What is waited for.
    pub(super) fn on(look: &TextLook, what: &str) -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr_with_hz(5));
        let ticks = match look.characters {
            Characters::Unicode => "\u{2801}\u{2802}\u{2804}\u{2820}\u{2810}\u{2808} ",
            Characters::Ascii => "|/-\\ ",
        };
        if let Ok(style) = ProgressStyle::with_template("{spinner} {elapsed} {wide_msg}") {
            bar.set_style(style.tick_chars(ticks));
        }
        bar.set_message(what.to_owned());
        bar.enable_steady_tick(TICK);
        Self(bar)
    }

    /// What is waited for now.
    pub(super) fn say(&self, what: String) {
        self.0.set_message(what);
    }

    /// Has something written to the terminal while the sign is away.
    pub(super) fn aside<R>(&self, write: impl FnOnce() -> R) -> R {
        self.0.suspend(write)
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
