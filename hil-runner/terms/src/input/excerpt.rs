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
