//! Studies for people: what was measured, what follows from it, and what is advised.

mod advice;
mod follows;
mod line;
mod measured;
mod numbers;

use super::look::Ink;
use super::{Grid, TextLook, table};
use slotwise_study::Study;

pub use line::line_study_lines;

/// Indent of the lines below a heading.
const SET_IN: &str = "          ";

/// All lines of a study.
#[must_use]
pub fn study_lines(look: &TextLook, study: &Study) -> Vec<String> {
    let mut lines = measured::tell(look, study);
    lines.extend(follows::tell(look, study));
    lines.extend(advice::tell(look, study));
    lines
}

/// A heading after an empty line.
fn heading(look: &TextLook, text: &str) -> [String; 2] {
    [String::new(), Ink::Strong.on(look.wrap("", text))]
}

/// A remark below a table, or a formula.
fn note(look: &TextLook, text: &str) -> String {
    look.wrap(SET_IN, text)
}

fn grid(look: &TextLook, heading: &[&str], left: usize, rows: Vec<Vec<String>>) -> Vec<String> {
    table(look, Grid { heading: heading.to_vec(), right: &heading[left..], rows })
}

/// What a row is called.
fn name(bits: Option<u8>) -> String {
    bits.map_or_else(|| "DS18S20".into(), |bits| format!("{bits} bits"))
}

/// The same in a column of that name.
fn bits(bits: Option<u8>) -> String {
    bits.map_or_else(|| "DS18S20".into(), |bits| bits.to_string())
}

#[cfg(test)]
mod tests;
