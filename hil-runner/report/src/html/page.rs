//! What the page shows, as the template needs it: plain texts, which the template escapes.

use askama::Template;

use crate::look::Ink;
use crate::plots::LegendEntry;

/// The whole page.
#[derive(Template)]
#[template(path = "report.html")]
pub(super) struct Page {
    pub(super) title: String,
    /// In one sentence how it went.
    pub(super) verdict: String,
    pub(super) tone: Tone,
    /// The first step that did not pass, anywhere.
    pub(super) first_failure: Option<Link>,
    pub(super) rows: Vec<Row>,
    /// None for a single run that is held against nothing.
    pub(super) changes: Option<Changes>,
    pub(super) troubles: Vec<String>,
    pub(super) runs: Vec<Run>,
    pub(super) made_by: String,
}

/// Good, bad or neither. Always beside a word, never alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tone {
    Good,
    Bad,
    Odd,
}

impl Tone {
    /// That of an outcome: as good or bad as it is on a terminal.
    pub(super) fn of(outcome: impl Into<Ink>) -> Self {
        match outcome.into() {
            Ink::Good => Self::Good,
            Ink::Bad => Self::Bad,
            Ink::Odd | Ink::Faint | Ink::Strong => Self::Odd,
        }
    }

    /// Its class in the style sheet.
    pub(super) const fn class(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Bad => "bad",
            Self::Odd => "odd",
        }
    }
}

/// A link within the page.
#[derive(Clone, Debug)]
pub(super) struct Link {
    pub(super) to: String,
    pub(super) text: String,
}

/// A run in the overview.
pub(super) struct Row {
    pub(super) link: Link,
    pub(super) rig: String,
    pub(super) word: &'static str,
    pub(super) tone: Tone,
    pub(super) met: String,
    pub(super) took: String,
    pub(super) changes: String,
}

/// What has changed against the past.
pub(super) struct Changes {
    pub(super) new: Vec<Change>,
    pub(super) standing: Vec<Change>,
    pub(super) over: Vec<Change>,
}

/// One change.
pub(super) struct Change {
    pub(super) text: String,
    pub(super) since: String,
    pub(super) run: Link,
}

/// One run.
pub(super) struct Run {
    pub(super) id: String,
    pub(super) heading: String,
    pub(super) word: &'static str,
    pub(super) tone: Tone,
    /// The folder beside the page in which its own report and its record lie, if it has one.
    pub(super) folder: Option<String>,
    /// Why there is no more, or what is broken.
    pub(super) why: Option<String>,
    pub(super) hint: Option<String>,
    pub(super) facts: Vec<(String, String)>,
    pub(super) cautions: Vec<String>,
    pub(super) failures: Vec<Failure>,
    pub(super) plots: Vec<Plot>,
    pub(super) steps: Vec<Step>,
    pub(super) log: Vec<String>,
    pub(super) log_not_kept: u64,
}

/// A step that did not pass.
pub(super) struct Failure {
    pub(super) id: String,
    pub(super) heading: String,
    /// Bad if it failed; odd if it could not be done.
    pub(super) tone: Tone,
    pub(super) reason: Option<String>,
    pub(super) verdicts: Vec<Unmet>,
    /// How many more there are.
    pub(super) more: usize,
}

/// An expectation that was not met.
pub(super) struct Unmet {
    pub(super) sensor: String,
    pub(super) what: String,
    pub(super) expected: String,
    pub(super) source: String,
    pub(super) got: String,
}

/// A step in the table of all.
pub(super) struct Step {
    pub(super) place: String,
    pub(super) label: String,
    pub(super) word: &'static str,
    pub(super) tone: Tone,
    pub(super) met: String,
    pub(super) took: String,
    /// Anchor of its full report.
    pub(super) failure: Option<String>,
}

/// A plot with its words and numbers.
pub(super) struct Plot {
    pub(super) heading: String,
    /// An SVG element; none if there is nothing to draw.
    pub(super) svg: Option<String>,
    pub(super) legend: Vec<LegendEntry>,
    pub(super) note: String,
    pub(super) table: Table,
}

/// Numbers as text. The first column is flush left.
#[derive(Default)]
pub(super) struct Table {
    pub(super) caption: String,
    pub(super) heading: Vec<String>,
    pub(super) rows: Vec<Vec<String>>,
}
