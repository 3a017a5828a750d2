//! The two streams of the program, and what may be shown on them.
//!
//! Results go to standard output, everything else to standard error. Only this module and those that it gives streams
//! to print.

use std::cell::Cell;
use std::io::{self, IsTerminal, Write};

use anstream::{AutoStream, ColorChoice};
use serde::Serialize;

use super::args::When;
use super::exit::Exit;
use slotwise_report::{Characters, TextLook};
use slotwise_terms::input::{DecorStyle, InputErrors};

/// Both streams.
#[derive(Debug)]
pub(super) struct Console {
    out: AutoStream<io::Stdout>,
    /// What may be shown on standard output.
    pub(super) look: TextLook,
    /// Whether an error of standard output has been reported. The first one is enough.
    output_error_reported: Cell<bool>,
    /// Whether lines go to standard error, since JSON is what goes to standard output.
    lines_aside: bool,
}

impl Console {
    pub(super) fn new(when: When) -> Self {
        let choice = match when {
            When::Auto => ColorChoice::Auto,
            When::Always => ColorChoice::Always,
            When::Never => ColorChoice::Never,
        };
        // For what is written to standard error by way of anstream's macros.
        choice.write_global();
        let look = if io::stdout().is_terminal() {
            TextLook {
                width: terminal_size::terminal_size().map(|(width, _)| width.0.into()),
                characters: characters(),
            }
        } else {
            TextLook::PLAIN
        };
        Self {
            out: AutoStream::new(io::stdout(), choice),
            look,
            output_error_reported: Cell::new(false),
            lines_aside: false,
        }
    }

    /// Whether there is a terminal at both ends that can show more than lines.
    pub(super) fn is_for_views(&self) -> bool {
        let is_dumb = std::env::var("TERM").is_ok_and(|term| term == "dumb" || term.is_empty());
        io::stdout().is_terminal() && io::stdin().is_terminal() && !is_dumb
    }

    /// Whether colours are shown on standard output.
    #[cfg(feature = "view")]
    pub(super) fn has_colours(&self) -> bool {
        self.out.current_choice() != ColorChoice::Never
    }

    /// Sends lines to standard error from now on, so that standard output carries JSON alone.
    pub(super) const fn keep_lines_aside(&mut self) {
        self.lines_aside = true;
    }

    /// Writes a value as JSON, in one line.
    pub(super) fn json_line(&mut self, value: &impl Serialize) -> Exit {
        let written = serde_json::to_writer(&mut self.out, value).map_err(io::Error::from);
        let written = written.and_then(|()| writeln!(self.out)).and_then(|()| self.out.flush());
        written.map_or_else(|error| self.output_error(&error), |()| Exit::AllMet)
    }

    /// Writes a line of results.
    pub(super) fn line(&mut self, text: &str) -> Exit {
        if self.lines_aside {
            message(text);
            return Exit::AllMet;
        }
        writeln!(self.out, "{text}").map_or_else(|error| self.output_error(&error), |()| Exit::AllMet)
    }

    /// Where results go.
    pub(super) fn out(&mut self) -> &mut dyn Write {
        &mut self.out
    }

    /// Width and characters of standard error.
    pub(super) fn error_look(&self) -> TextLook {
        if io::stderr().is_terminal() {
            TextLook {
                width: terminal_size::terminal_size_of(io::stderr()).map(|(width, _)| width.0.into()),
                ..self.look
            }
        } else {
            TextLook::PLAIN
        }
    }

    /// Reports an error on standard error.
    pub(super) fn error(&self, text: impl std::fmt::Display) {
        let red = anstyle::AnsiColor::Red.on_default().bold();
        message(&format!("{red}error:{red:#} {text}"));
    }

    /// Reports the problems of an input file: on a terminal with the lines in question, elsewhere one line each.
    pub(super) fn input_errors(&self, errors: &InputErrors) {
        if io::stderr().is_terminal() {
            let TextLook { width, characters } = self.error_look();
            let decor = match characters {
                Characters::Unicode => DecorStyle::Unicode,
                Characters::Ascii => DecorStyle::Ascii,
            };
            for problem in errors.problems() {
                message(&problem.excerpt(width.unwrap_or(100), decor));
            }
            if errors.omitted() > 0 {
                message(&format!("and {} more", errors.omitted()));
            }
            return;
        }
        for problem in errors.problems() {
            self.error(problem);
            if let Some(hint) = problem.hint() {
                message(&format!("hint: {hint}"));
            }
        }
        if errors.omitted() > 0 {
            message(&format!("and {} more", errors.omitted()));
        }
    }

    /// Reports an error of standard output and returns its exit code. A reader that has closed the pipe is no error.
    #[must_use]
    pub(super) fn output_error(&self, error: &io::Error) -> Exit {
        if error.kind() == io::ErrorKind::BrokenPipe {
            return Exit::AllMet;
        }
        if !self.output_error_reported.replace(true) {
            self.error(format_args!("cannot write to standard output: {error}"));
        }
        Exit::BadInput
    }
}

/// Writes a line to standard error. A failure to write is ignored: no stream is left on which to report it.
pub(super) fn message(text: &str) {
    let _ = writeln!(anstream::stderr(), "{text}");
}

/// Whether the terminal shows more than ASCII, by the usual variables in their order.
fn characters() -> Characters {
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .filter_map(|name| std::env::var(name).ok())
        .find(|value| !value.is_empty())
        .unwrap_or_default()
        .to_ascii_lowercase();
    if locale.contains("utf-8") || locale.contains("utf8") { Characters::Unicode } else { Characters::Ascii }
}
