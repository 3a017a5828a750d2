//! How text looks: colours, width, characters, and the ink for each outcome.

use std::fmt;

use anstyle::{AnsiColor, Style};
use slotwise_record::{Ruling, RunOutcome, StepOutcome};

/// What is known of the place where text goes. Colours are always written; a stream that shows none takes them out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TextLook {
    /// Columns. None: not a terminal, lines may be of any length.
    pub width: Option<usize>,
    /// Characters that can be shown.
    pub characters: Characters,
}

/// Characters that can be shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Characters {
    /// Those of ASCII.
    Ascii,
    /// All.
    Unicode,
}

/// No terminal is taken to be narrower than this.
const NARROWEST: usize = 40;

impl TextLook {
    /// For files and pipes.
    pub const PLAIN: Self = Self { width: None, characters: Characters::Ascii };

    /// Text in lines that fit: the first begins with `first`, the others with as many blanks, if there is room for them.
    #[must_use]
    pub fn wrap(&self, first: &str, text: &str) -> String {
        let Some(width) = self.width else {
            return format!("{first}{text}");
        };
        let width = width.max(NARROWEST);
        let blanks = " ".repeat(first.chars().count().min(width / 4));
        let options = textwrap::Options::new(width).initial_indent(first).subsequent_indent(&blanks).break_words(false);
        textwrap::fill(text, options)
    }
}

/// What a piece of text means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ink {
    /// As expected.
    Good,
    /// Not as expected.
    Bad,
    /// Neither: something that could not be done.
    Odd,
    /// A heading.
    Strong,
    /// Beside the point.
    Faint,
}

impl Ink {
    const fn style(self) -> Style {
        match self {
            Self::Good => AnsiColor::Green.on_default(),
            Self::Bad => AnsiColor::Red.on_default().bold(),
            Self::Odd => AnsiColor::Yellow.on_default(),
            Self::Strong => Style::new().bold(),
            Self::Faint => Style::new().dimmed(),
        }
    }

    /// The text in this ink.
    pub(super) fn on(self, text: impl fmt::Display) -> String {
        let style = self.style();
        format!("{style}{text}{style:#}")
    }
}

/// The caution of every report that has none of its scenario.
pub const CAUTION: &str = "not a certified measuring instrument: no reliance for food, medical, fire or process safety; keep the line away from \
                           mains wiring; follow local codes and licensed practice";

/// Every outcome of a step is one word of at most so many letters, so that steps line up.
pub(super) const OUTCOME_WIDTH: usize = 7;

impl From<StepOutcome> for Ink {
    fn from(of: StepOutcome) -> Self {
        match of {
            StepOutcome::Passed => Self::Good,
            StepOutcome::Failed | StepOutcome::Broken => Self::Bad,
            StepOutcome::NotPossible | StepOutcome::Interrupted => Self::Odd,
            StepOutcome::NotRun => Self::Faint,
        }
    }
}

impl From<RunOutcome> for Ink {
    fn from(of: RunOutcome) -> Self {
        match of {
            RunOutcome::Passed => Self::Good,
            RunOutcome::Failed | RunOutcome::Broken => Self::Bad,
            RunOutcome::Incomplete | RunOutcome::Interrupted => Self::Odd,
        }
    }
}

impl From<Ruling> for Ink {
    fn from(of: Ruling) -> Self {
        match of {
            Ruling::Met => Self::Good,
            Ruling::NotMet => Self::Bad,
            Ruling::CannotTell => Self::Odd,
        }
    }
}
