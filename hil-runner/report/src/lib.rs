//! Reports: of a run, made from its events and its record and from nothing else; of a night, a study and a capture, from their own data.
//!
//! [`Terminal`] writes as it happens and [`ProgressBar`] shows how far a long step has come; [`junit`] makes a file
//! of the finished record. The hints are advice, kept apart from the facts.

mod brief;
pub mod edges;
mod fixed_point;
mod hint;
#[cfg(feature = "pages")]
mod html;
mod junit;
#[cfg(feature = "history")]
mod junit_night;
mod line;
mod look;
mod opening;
#[cfg(feature = "pages")]
mod plots;
mod progress;
mod status_line;
mod step;
mod study;
mod summary;
mod table;
mod terminal;
mod verdicts;
mod waveform;

#[cfg(test)]
mod tests;

pub use hint::{breakage_hint, failure_hint};
#[cfg(feature = "pages")]
pub use html::{HtmlError, drawn_moments, night_html, record_html, waveform_html};
pub use junit::{JunitError, junit};
#[cfg(feature = "history")]
pub use junit_night::junit_of_night;
pub use look::{Characters, TextLook};
pub use opening::{caution_line, describe, rig_lines};
#[cfg(feature = "pages")]
pub use plots::{PlotError, study_svg};
pub use progress::ProgressBar;
pub use status_line::StatusLine;
pub use step::supply_word;
pub use study::{line_study_lines, study_lines};
use table::MARGIN;
pub use table::nothing;
pub use table::{Grid, table};
pub use terminal::{Detail, Terminal};
pub use waveform::{played_line, transaction_line, waveform_lines};
