//! One line on standard error that changes in place and goes: a bar, a spinner or a text. It shows on a terminal only, and in builds
//! with the live view only.

#[cfg(feature = "view")]
use std::time::Duration;

#[cfg(feature = "view")]
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::Characters;

/// Interval at which a spinner moves.
#[cfg(feature = "view")]
const TICK: Duration = Duration::from_millis(250);

/// The line; removed on drop.
pub struct StatusLine {
    #[cfg(feature = "view")]
    bar: ProgressBar,
}

impl StatusLine {
    /// A bar of `total`, with a template that says where bar, numbers and message stand, in the words of the crate indicatif.
    #[must_use]
    pub fn bar(characters: Characters, total: u64, template: &str) -> Self {
        let bars = match characters {
            Characters::Unicode => "\u{2501}\u{2578} ",
            Characters::Ascii => "=> ",
        };
        Self::new(Some(total), template, Marks::Bar(bars))
    }

    /// A spinner with the time elapsed before the message. It moves by itself, well under the two seconds after which a terminal seems
    /// dead.
    #[must_use]
    pub fn spinner(characters: Characters) -> Self {
        let ticks = match characters {
            Characters::Unicode => "\u{2801}\u{2802}\u{2804}\u{2820}\u{2810}\u{2808} ",
            Characters::Ascii => "|/-\\ ",
        };
        Self::new(None, "{spinner} {elapsed} {wide_msg}", Marks::Spinner(ticks))
    }

    /// The message alone, cut at the width of the terminal.
    #[must_use]
    pub fn text() -> Self {
        Self::new(None, "{wide_msg}", Marks::None)
    }

    /// Replaces the message.
    pub fn say(&self, message: String) {
        #[cfg(feature = "view")]
        self.bar.set_message(message);
        #[cfg(not(feature = "view"))]
        drop(message);
    }

    /// Moves a bar.
    pub fn position(&self, done: u64) {
        #[cfg(feature = "view")]
        self.bar.set_position(done);
        #[cfg(not(feature = "view"))]
        let _ = done;
    }

    /// Hides the line while `write` writes to the terminal.
    pub fn aside<R>(&self, write: impl FnOnce() -> R) -> R {
        #[cfg(feature = "view")]
        return self.bar.suspend(write);
        #[cfg(not(feature = "view"))]
        write()
    }
}

/// What bar and spinner are drawn with.
#[cfg_attr(not(feature = "view"), expect(dead_code, reason = "nothing is drawn"))]
enum Marks {
    Bar(&'static str),
    Spinner(&'static str),
    None,
}

#[cfg(feature = "view")]
impl StatusLine {
    fn new(total: Option<u64>, template: &str, marks: Marks) -> Self {
        let bar = ProgressBar::with_draw_target(total, ProgressDrawTarget::stderr_with_hz(5));
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(match marks {
                Marks::Bar(marks) => style.progress_chars(marks),
                Marks::Spinner(marks) => style.tick_chars(marks),
                Marks::None => style,
            });
        }
        if let Marks::Spinner(_) = marks {
            bar.enable_steady_tick(TICK);
        }
        Self { bar }
    }
}

impl Drop for StatusLine {
    fn drop(&mut self) {
        #[cfg(feature = "view")]
        self.bar.finish_and_clear();
    }
}

#[cfg(not(feature = "view"))]
impl StatusLine {
    fn new(_: Option<u64>, _: &str, _: Marks) -> Self {
        Self {}
    }
}
