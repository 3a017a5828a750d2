//! What the user is told while a chip is brought up: what it holds, what takes its place, and how far that has come.

use std::time::Instant;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::console::tell;
use slotwise_bench::debug_probe::{FlashListener, FlashNews};
use slotwise_report::{Characters, TextLook};

/// Tells on standard error. The bar shows only on a terminal.
pub(super) struct FlashTeller {
    characters: Characters,
    bar: Option<(&'static str, ProgressBar)>,
    begun: Instant,
}

impl FlashTeller {
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

impl Drop for FlashTeller {
    fn drop(&mut self) {
        self.end();
    }
}

impl FlashListener for FlashTeller {
    fn notice(&mut self, news: &FlashNews<'_>) {
        match news {
            FlashNews::UpToDate(identity) => tell(&format!("bridge: holds this firmware already ({identity})")),
            FlashNews::Replacing { old, new } => {
                let old = old.as_ref().map_or("none of ours".to_owned(), ToString::to_string);
                self.begun = Instant::now();
                tell(&format!("bridge: holds other firmware ({old}); flashing {new}"));
            }
            FlashNews::Progress { work, done, total } => self.show(work, *done, *total),
            FlashNews::Written => {
                self.end();
                tell(&format!("bridge: flashed and read back in {} ms", self.begun.elapsed().as_millis()));
            }
        }
    }
}
