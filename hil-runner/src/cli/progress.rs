//! Progress on standard error: flashing of a chip, and work that takes long.

use std::time::Instant;

use super::console::message;
use slotwise_bench::debug_probe::{FlashListener, FlashNews};
use slotwise_report::{Characters, StatusLine, TextLook};

/// Reports which firmware a chip holds and how far flashing has got. The bar shows on a terminal only.
pub(super) struct FlashProgress {
    characters: Characters,
    bar: Option<(&'static str, StatusLine)>,
    begun: Instant,
}

impl FlashProgress {
    pub(super) fn new(look: TextLook) -> Self {
        Self { characters: look.characters, bar: None, begun: Instant::now() }
    }

    fn show(&mut self, work: &'static str, done: u64, total: u64) {
        if self.bar.as_ref().is_none_or(|(known, _)| *known != work) {
            self.end();
            let bar = StatusLine::bar(self.characters, total, "[{bar:20}] {bytes} of {total_bytes}: {wide_msg}");
            bar.say(work.to_owned());
            self.bar = Some((work, bar));
        }
        if let Some((_, bar)) = &self.bar {
            bar.position(done);
        }
    }

    fn end(&mut self) {
        self.bar = None;
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

/// A moving line on standard error with the time elapsed, removed on drop. It shows on a terminal only.
pub(super) struct Waiting(StatusLine);

impl Waiting {
    /// Shows the line, with what is awaited.
    pub(super) fn on(look: &TextLook, what: &str) -> Self {
        let line = StatusLine::spinner(look.characters);
        line.say(what.to_owned());
        Self(line)
    }

    /// Replaces the text.
    pub(super) fn say(&self, what: String) {
        self.0.say(what);
    }

    /// Hides the line while `write` writes to the terminal.
    pub(super) fn aside<R>(&self, write: impl FnOnce() -> R) -> R {
        self.0.aside(write)
    }
}
