//! The report for people: one HTML file with nothing outside it, made from records, the night and the history, or from a capture.
//!
//! Verdicts come first, then what has changed, then each run with its failures, its plots and its steps. Every plot has a title, a
//! description and a table of its numbers, summed up where they are many, for those who do not see it. `page` is what the template is filled with, and the
//! other modules fill it, each with a part.

mod conversions;
mod first_failure;
mod line;
mod overview;
mod page;
mod readings;
mod run;
mod steps;
mod trends;
mod waveform;

#[cfg(test)]
mod tests;

pub use waveform::{drawn_moments, waveform_html};

use askama::Template;

use crate::plots::PlotError;

use slotwise_past::NightReport;
use slotwise_record::Record;
use slotwise_waveform::Levels;

/// Why there is no report.
#[derive(Debug, thiserror::Error)]
pub enum HtmlError {
    /// The template could not be filled.
    #[error("no HTML can be made: {0}")]
    Template(#[from] askama::Error),
    /// A plot could not be drawn.
    #[error(transparent)]
    Plot(#[from] PlotError),
}

/// The report of a night.
///
/// # Errors
/// [`HtmlError`].
pub fn night_html(report: &NightReport<'_>) -> Result<String, HtmlError> {
    Ok(overview::of_night(report)?.render()?)
}

/// The report of one run. `failure`: the line at its first failure, if the rig recorded it.
///
/// # Errors
/// [`HtmlError`].
pub fn record_html(record: &Record, failure: Option<&Result<Levels, String>>) -> Result<String, HtmlError> {
    Ok(overview::of_record(record, failure)?.render()?)
}
