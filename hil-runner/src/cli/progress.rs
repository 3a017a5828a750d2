//! Progress on standard error: flashing of a chip, and work that takes long.

use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::console::message;
use slotwise_bench::debug_probe::{FlashListener, FlashNews};
use slotwise_report::{Characters, TextLook};

/// Reports which firmware a chip holds and how far flashing has got. The bar shows on a terminal only.
pub(super) struct FlashProgress {
    characters: Characters,
    bar: Option<(&'static str, ProgressBar)>,
    begun: Instant,
}

impl FlashProgress {
    pub(super) fn new(look: TextLook) -> Self {
        Self { characters: look.characters, bar: None, begun: Instant::now() }
    }

    fn show(&mut self, work: &'static str, done: u64, total: u64) {
        if self.bar.as_ref().is_none_or(|(known, _)| *known != work) {
            self.end();
            let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::stderr_with_hz(10));
            let bars = match self.characters {
                Characters::Unicode => "\u{2501}\u{2578} ",
                Characters::Ascii => "=> ",
            };
            if let Ok(style) = ProgressStyle::with_template("[{bar:20}] {bytes} of {total_bytes}: {wide_msg}") {
                bar.set_style(style.progress_chars(bars));
            }
            bar.set_message(work);
            self.bar = Some((work, bar));
        }
        if let Some((_, bar)) = &self.bar {
            bar.set_position(done);
        }
    }

    fn end(&mut self) {
        if let Some((_, bar)) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}

impl Drop for FlashProgress {
    fn drop(&mut self) {
        self.end();
    }
}

impl FlashListener for FlashProgress {
    fn notice(&mut self, news: &FlashNews<'_>) {
        match news {
            FlashNews::UpToDate(identity) => message(&format!("bridge: holds this firmware already ({identity})")),
            FlashNews::Replacing { old, new } => {
                let old = old.as_ref().map_or("none of ours".to_owned(), ToString::to_string);
                self.begun = Instant::now();
                message(&format!("bridge: holds other firmware ({old}); flashing {new}"));
            }
            FlashNews::Progress { work, done, total } => self.show(work, *done, *total),
            FlashNews::Written => {
                self.end();
                message(&format!("bridge: flashed and read back in {} ms", self.begun.elapsed().as_millis()));
            }
        }
    }
}

/// Interval at which the line moves, well under the two seconds after which a terminal seems dead.
const TICK: Duration = Duration::from_millis(250);

/// A moving line on standard error with the time elapsed, removed on drop. It shows on a terminal only.
pub(super) struct Waiting(ProgressBar);

impl Waiting {
    /// Shows the line, with what is awaited.
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

    /// Replaces the text.
    pub(super) fn say(&self, what: String) {
        self.0.set_message(what);
    }

    /// Hides the line while `write` writes to the terminal.
    pub(super) fn aside<R>(&self, write: impl FnOnce() -> R) -> R {
        self.0.suspend(write)
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
