//! A problem as a terminal shows it: the message, the lines in question with a mark under each place, and the hint.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use anstyle::{AnsiColor, Style};

pub use annotate_snippets::renderer::DecorStyle;

use super::Problem;

impl Problem {
    /// The problem with an excerpt of its file, in so many columns. Colours are always written; a stream that shows none takes them out.
    #[must_use]
    pub fn excerpt(&self, columns: usize, decor: DecorStyle) -> String {
        let mut lines = vec![titled(AnsiColor::Red, "error", &self.to_string(), columns)];
        lines.extend(self.marked_lines(columns, decor));
        lines.extend(self.hint().map(|hint| titled(AnsiColor::Cyan, "hint", hint, columns)));
        lines.join("\n")
    }

    fn marked_lines(&self, columns: usize, decor: DecorStyle) -> Option<String> {
        let kinds = std::iter::once(AnnotationKind::Primary).chain(std::iter::repeat(AnnotationKind::Context));
        let annotations =
            self.marks().iter().zip(kinds).map(|(mark, kind)| kind.span(mark.span.clone()).label(&*mark.text));
        let snippet = Snippet::source(self.source_text()?).path(self.file()).annotations(annotations);
        let renderer = Renderer::styled().decor_style(decor).term_width(columns);
        Some(renderer.render(&[Group::with_level(Level::ERROR).element(snippet)]))
    }
}

fn titled(colour: AnsiColor, title: &str, text: &str, columns: usize) -> String {
    let options = textwrap::Options::new(columns).subsequent_indent("  ").break_words(false);
    let wrapped = textwrap::fill(&format!("{title}: {text}"), options);
    let rest = wrapped.strip_prefix(title).unwrap_or(&wrapped);
    let style: Style = colour.on_default().bold();
    format!("{style}{title}{style:#}{rest}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::Rig;

    fn excerpt(columns: usize, decor: DecorStyle) -> String {
        let errors = Rig::parse("shed.toml", BAD).unwrap_err();
        let of_kind = errors.problems().iter().find(|problem| problem.position().is_some_and(|at| at.line == 2));
        anstream::adapter::strip_str(&of_kind.expect("the kind is wrong").excerpt(columns, decor)).to_string()
    }

    const BAD: &str = "rig = \"shed\"\nkind = \"vrtual\"\n";

    #[test]
    fn an_excerpt_has_file_line_column_a_mark_and_the_hint() {
        for decor in [DecorStyle::Ascii, DecorStyle::Unicode] {
            let shown = excerpt(100, decor);
            let lines: Vec<&str> = shown.lines().collect();
            assert!(lines[0].starts_with("error: shed.toml:2:8: expected \"virtual\""), "{shown}");
            assert!(lines.iter().any(|line| line.ends_with(" shed.toml:2:8")), "{shown}");
            let source = lines.iter().position(|line| line.ends_with("kind = \"vrtual\"")).expect("the line is shown");
            let mark = match decor {
                DecorStyle::Ascii => "^^^^^^^^",
                DecorStyle::Unicode => "\u{2501}\u{2501}\u{2501}\u{2501}\u{2501}\u{2501}\u{2501}\u{2501}",
            };
            let column = |line: &str, what: &str| line.find(what).map(|at| line[..at].chars().count());
            assert_eq!(column(lines[source + 1], mark), column(lines[source], "\"vrtual\""), "{shown}");
            assert!(column(lines[source + 1], mark).is_some(), "{shown}");
            assert_eq!(lines.last(), Some(&"hint: the nearest known word is \"virtual\""), "{shown}");
        }
    }

    #[test]
    fn a_title_keeps_to_the_columns() {
        let title = excerpt(40, DecorStyle::Ascii);
        assert!(title.lines().take(2).all(|line| line.chars().count() <= 40), "{title}");
    }
}
