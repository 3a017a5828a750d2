//! Figures in the documents, held against what is measured.
//!
//! What comes out the same on any machine is measured by a check and compared with the row of the table, cell by cell. What depends on
//! the speed of a machine, or takes minutes, is measured by hand: its row has the command, and its section the date.

use crate::check::Report;
use std::fs;
use std::path::Path;

/// The page of all figures.
pub const PAGE: &str = "hil-runner/guide/figures.md";

/// How the rows of the page begin that checks and tests compare. All others are measured by hand.
const HELD: [&str; 16] = [
    // By the check "figures".
    "Match ROM + Read Scratchpad",
    "ROM search, per sensor",
    "fresh 12-bit readings of 20 sensors",
    // By the check "size".
    "driver's read path on thumbv6m",
    "statics",
    "on top of that in a program that uses the one error",
    "worst-case stack below the program's own frame",
    "the same with that frame",
    "what calibration adds",
    // By the check "firmware".
    "firmware with memory carrier and log, flash and statics: STM32F103",
    "nRF52833",
    "RP2040",
    "panics reachable from driver or service",
    // By the tests of the emulated rig.
    "every edge of five scenarios",
    "the same at 8 MHz",
    "a search, over 960 us for each reset",
];

/// A row of a table of figures.
#[derive(Debug, PartialEq, Eq)]
struct Row<'a> {
    section: &'a str,
    cells: Vec<&'a str>,
}

/// Compares the cells behind the first in the row of [`PAGE`] that begins with `row`. A difference is a failure.
pub fn hold(root: &Path, row: &str, cells: &[String], report: &mut Report) {
    match fs::read_to_string(root.join(PAGE)) {
        Ok(page) => report.failures.extend(difference(&page, row, cells).map(Into::into)),
        Err(error) => report.fail(format!("{PAGE} cannot be read ({error})")),
    }
}

/// What the page says otherwise in the row that begins with `row`.
fn difference(page: &str, row: &str, cells: &[String]) -> Option<String> {
    let rows = rows(page);
    let Some(found) = rows.iter().find(|found| found.cells[0].starts_with(row)) else {
        return Some(format!("{PAGE} has no row {row:?}"));
    };
    let said = found.cells.get(1..=cells.len()).unwrap_or_default();
    (said != cells)
        .then(|| format!("{PAGE}, {row:?}: measured {}, the page says {}", cells.join(" | "), said.join(" | ")))
}

/// Requires that `file` has `text` in it, a measured figure in its sentence.
pub fn say(root: &Path, file: &str, text: &str, report: &mut Report) {
    match fs::read_to_string(root.join(file)) {
        Ok(content) if content.contains(text) => {}
        Ok(_) => report.fail(format!("{file} does not say {text:?}, as was measured")),
        Err(error) => report.fail(format!("{file} cannot be read ({error})")),
    }
}

/// Lists the figures of [`PAGE`] that are measured by hand, and complains of those without command or date.
pub fn list_by_hand(root: &Path, report: &mut Report) {
    match fs::read_to_string(root.join(PAGE)) {
        Ok(page) => {
            let (listed, wrong) = by_hand(&page);
            report.failures.extend(wrong.into_iter().map(Into::into));
            report.note(format!("measured by hand: {}", listed.join(", ")));
        }
        Err(error) => report.fail(format!("{PAGE} cannot be read ({error})")),
    }
}

/// For each section, how many figures are measured by hand, and when; and what lacks its command or date.
fn by_hand(page: &str) -> (Vec<String>, Vec<String>) {
    let (mut counted, mut wrong): (Vec<(&str, usize)>, Vec<String>) = (Vec::new(), Vec::new());
    let mut has_command = "";
    for row in rows(page) {
        let command = row.cells.last().copied().unwrap_or_default();
        // "The same" as the row above it, in its own section.
        if command.starts_with('`') {
            has_command = row.section;
        } else if has_command != row.section || !command.starts_with("the ") {
            wrong.push(format!("{PAGE}, {:?} has no command that repeats it", row.cells[0]));
        }
        if HELD.iter().any(|held| row.cells[0].starts_with(held)) {
            continue;
        }
        match counted.last_mut().filter(|(section, _)| *section == row.section) {
            Some((_, count)) => *count += 1,
            None => counted.push((row.section, 1)),
        }
    }
    let mut listed = Vec::new();
    for (section, count) in counted {
        match date_of(page, section) {
            Some(date) => listed.push(format!("{count} of {section:?} on {date}")),
            None => {
                wrong.push(format!("{PAGE}, section {section:?} has figures measured by hand and does not say when"))
            }
        }
    }
    (listed, wrong)
}

/// The date in the line `By hand on YYYY-MM-DD` of a section.
fn date_of<'a>(page: &'a str, section: &str) -> Option<&'a str> {
    let (_, rest) = page.split_once(&format!("\n## {section}\n"))?;
    let body = rest.split("\n## ").next()?;
    let (_, date) = body.split_once("By hand on ")?;
    let date = date.get(..10)?;
    let is_date = date
        .bytes()
        .enumerate()
        .all(|(at, byte)| if at == 4 || at == 7 { byte == b'-' } else { byte.is_ascii_digit() });
    is_date.then_some(date)
}

/// Every row of the tables whose first column is called "figure".
fn rows(page: &str) -> Vec<Row<'_>> {
    let mut rows = Vec::new();
    let (mut section, mut inside) = ("", false);
    for line in page.lines() {
        if let Some(name) = line.strip_prefix("## ") {
            section = name;
        }
        let Some(line) = line.strip_prefix("| ").and_then(|line| line.trim_end().strip_suffix('|')) else {
            inside = inside && line.starts_with("|-");
            continue;
        };
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        if cells[0] == "figure" {
            inside = true;
        } else if inside {
            rows.push(Row { section, cells });
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "\n## One\n\nBy hand on 2026-11-30.\n\n| figure | measured | repeat with |\n|---|---|---|\n\
                        | statics | 3 B | `a` |\n| speed | 7 ms | the same |\n\n## Two\n\n\
                        | figure | measured | repeat with |\n|---|---|---|\n| wait | 7 s | `b` |\n| other | 7 s | |\n";

    #[test]
    fn a_figure_that_is_another_is_named_with_both() {
        assert_eq!(difference(TEXT, "statics", &["3 B".into()]), None);
        let said = difference(TEXT, "statics", &["4 B".into()]).unwrap();
        assert!(said.ends_with("\"statics\": measured 4 B, the page says 3 B"), "{said}");
        assert!(difference(TEXT, "nothing", &[]).unwrap().ends_with("has no row \"nothing\""));
        assert!(difference(TEXT, "statics", &["3 B".into(), "`a`".into(), "more".into()]).is_some(), "a cell too few");
    }

    #[test]
    fn figures_by_hand_are_listed_and_want_a_command_and_a_date() {
        let (listed, wrong) = by_hand(TEXT);
        assert_eq!(listed, ["1 of \"One\" on 2026-11-30"]);
        assert_eq!(wrong.len(), 2, "{wrong:?}");
        assert!(wrong[0].contains("\"other\" has no command") && wrong[1].contains("\"Two\""), "{wrong:?}");
    }

    #[test]
    fn every_row_that_is_held_is_on_the_page_once() {
        let page = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(PAGE)).unwrap();
        let rows = rows(&page);
        for held in HELD {
            let found = rows.iter().filter(|row| row.cells[0].starts_with(held)).count();
            assert_eq!(found, 1, "{held}");
        }
    }
}
