//! Tables, in the width that there is.

use comfy_table::{CellAlignment, ContentArrangement, LineStyle, Table, TableStyle};

use super::{Characters, TextLook};

/// How far tables, and all lines below a heading, are set in.
pub(super) const MARGIN: &str = "         ";
/// The same where there is no room.
const NARROW_MARGIN: &str = " ";

/// The mark of a cell in which there is nothing to tell.
pub fn nothing() -> String {
    "-".into()
}

/// A table: a heading and rows. The first two columns name a thing, in a short and in a long way.
#[derive(Clone, Debug)]
pub struct Grid<'a> {
    /// Names of the columns.
    pub heading: Vec<&'a str>,
    /// Which of them are flush right.
    pub right: &'a [&'a str],
    /// Cells.
    pub rows: Vec<Vec<String>>,
}

/// Lines of a table. Columns in which there is nothing to tell are left out.
///
/// Where it would be too wide it is not set in; where it still is, both names share a cell, one above the other; where even
/// that is too wide, cells are wrapped between words; and where a column is too narrow for its words, each row becomes a
/// paragraph. No word is ever broken.
#[must_use]
pub fn table(look: &TextLook, grid: Grid<'_>) -> Vec<String> {
    let grid = grid.without_empty_columns();
    let names_in_one_cell = grid.with_names_in_one_cell();
    let fits = |lines: &Vec<String>| {
        look.width.is_none_or(|width| lines.iter().all(|line| textwrap::core::display_width(line) <= width))
    };
    [(&grid, MARGIN), (&grid, NARROW_MARGIN), (&names_in_one_cell, NARROW_MARGIN)]
        .into_iter()
        .map(|(grid, margin)| grid.lines(look.characters, margin, None))
        .find(fits)
        .or_else(|| {
            let lines = names_in_one_cell.lines(look.characters, NARROW_MARGIN, look.width);
            names_in_one_cell.is_whole_in(&lines).then_some(lines)
        })
        .unwrap_or_else(|| grid.paragraphs(look))
}

impl Grid<'_> {
    fn without_empty_columns(self) -> Self {
        let Self { heading, right, rows } = self;
        let filled = |index: &usize| rows.iter().any(|row| row.get(*index).is_some_and(|cell| *cell != nothing()));
        let columns: Vec<usize> = (0..heading.len()).filter(filled).collect();
        Self {
            heading: columns.iter().filter_map(|index| heading.get(*index)).copied().collect(),
            right,
            rows: rows
                .iter()
                .map(|row| columns.iter().filter_map(|index| row.get(*index)).cloned().collect())
                .collect(),
        }
    }

    fn with_names_in_one_cell(&self) -> Self {
        let rows = self.rows.iter().map(|row| match row.as_slice() {
            [short, long, rest @ ..] => {
                let mut cells = vec![format!("{short}\n{long}")];
                cells.extend_from_slice(rest);
                cells
            }
            few => few.to_vec(),
        });
        let heading = match self.heading.as_slice() {
            [short, _, rest @ ..] => std::iter::once(*short).chain(rest.iter().copied()).collect(),
            few => few.to_vec(),
        };
        Self { heading, right: self.right, rows: rows.collect() }
    }

    /// Whether every word of the table stands in these lines, in one piece.
    fn is_whole_in(&self, lines: &[String]) -> bool {
        let shown: std::collections::BTreeSet<&str> = lines.iter().flat_map(|line| line.split_whitespace()).collect();
        let heading = self.heading.iter().flat_map(|name| name.split_whitespace());
        let cells = self.rows.iter().flatten().flat_map(|cell| cell.split_whitespace());
        heading.chain(cells).all(|word| shown.contains(word))
    }

    /// Each row as a paragraph: both names, then every other cell behind the name of its column.
    fn paragraphs(&self, look: &TextLook) -> Vec<String> {
        let mut lines = Vec::new();
        for row in &self.rows {
            let (names, rest) = row.split_at(row.len().min(2));
            let names: Vec<&str> = names.iter().map(String::as_str).filter(|name| *name != nothing()).collect();
            let about = self.heading.iter().skip(2).zip(rest).filter(|(_, cell)| **cell != nothing());
            let about: Vec<String> = about.map(|(name, cell)| format!("{name} {cell}")).collect();
            lines.extend(look.wrap(NARROW_MARGIN, &names.join("  ")).lines().map(str::to_owned));
            lines.extend(look.wrap("   ", &about.join(", ")).lines().map(str::to_owned));
        }
        lines
    }

    /// In this many columns, or in as many as it takes.
    fn lines(&self, characters: Characters, margin: &str, width: Option<usize>) -> Vec<String> {
        let rule = match characters {
            Characters::Unicode => '\u{2500}',
            Characters::Ascii => '-',
        };
        let mut table = Table::new();
        table.load_style(TableStyle::new().header_separator(LineStyle::none().fill(rule)));
        match width {
            Some(width) => {
                let inside = width.saturating_sub(margin.len()).max(20);
                let inside = u16::try_from(inside).unwrap_or(u16::MAX);
                table.set_content_arrangement(ContentArrangement::Dynamic).set_width(inside);
            }
            None => {
                table.set_content_arrangement(ContentArrangement::Disabled);
            }
        }
        table.set_header(&self.heading);
        table.add_rows(self.rows.iter().cloned());
        for (index, name) in self.heading.iter().enumerate() {
            if let (true, Some(column)) = (self.right.contains(name), table.column_mut(index)) {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
        table.lines().map(|line| format!("{margin}{}", line.trim_end())).collect()
    }
}
