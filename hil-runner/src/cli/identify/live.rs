//! Numbers while sensors are watched: one line that changes on a terminal, a line now and then elsewhere.

use std::io::{self, IsTerminal};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::cli::console::tell;
use slotwise_report::TextLook;

/// Between two lines where there is no terminal, in time of the rig.
const SELDOM: Duration = Duration::from_secs(10);

/// Standard error, with a line that may change at its end.
pub(super) struct Live {
    look: TextLook,
    bar: Option<ProgressBar>,
    is_terminal: bool,
    /// When a line is due where there is no terminal.
    due_at: Duration,
}

impl Live {
    pub(super) fn new(look: TextLook) -> Self {
        Self { look, bar: None, is_terminal: io::stderr().is_terminal(), due_at: Duration::ZERO }
    }

    /// Says something that stays.
    pub(super) fn tell(&mut self, text: &str) {
        self.quiet();
        tell(&self.look.wrap("", text));
    }

    /// Shows how it stands.
    pub(super) fn show(&mut self, at: Duration, text: &str) {
        if !self.is_terminal {
            if at >= self.due_at {
                self.due_at = at + SELDOM;
                tell(text);
            }
            return;
        }
        let bar = self.bar.get_or_insert_with(|| {
            let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr_with_hz(5));
            // The message is cut where the line ends.
            if let Ok(style) = ProgressStyle::with_template("{wide_msg}") {
                bar.set_style(style);
            }
            bar
        });
        bar.set_message(text.to_owned());
    }

    /// Takes the line that changes away.
    pub(super) fn quiet(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}
