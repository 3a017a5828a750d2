//! Reading one file: problems are collected while everything that can be read is read.

use std::cell::{Cell, RefCell};
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::problem::Mark;
use super::source::SourceFile;
use super::visible::spelled_out;
use super::words::described;
use super::{Complaint, InputErrors, Problem};

/// Most problems that are reported of one file; more are counted. It also bounds the work spent on bad files.
const MAX_PROBLEMS: usize = 50;

/// A value and where it stands.
pub type Value<'a> = Spanned<DeValue<'a>>;

/// Proof that a problem has been reported.
#[derive(Clone, Copy, Debug)]
pub struct Reported(());

/// A value, or the problem has been reported.
pub type Read<T> = Result<T, Reported>;

/// What to report.
#[derive(Debug)]
pub struct Report {
    complaint: Complaint,
    label: String,
    also: Vec<Mark>,
    hint: Option<String>,
}

impl Report {
    /// One thing stands where another belongs.
    pub fn unexpected(expected: impl Into<String>, found: impl Into<String>) -> Self {
        let expected = expected.into();
        let label = format!("expected {expected}");
        Self::new(Complaint::Unexpected { expected, found: found.into() }, label)
    }

    /// Two things do not go together; `label` says what the first of them is.
    pub fn contradiction(rule: impl Into<String>, found: impl Into<String>, label: impl Into<String>) -> Self {
        Self::new(Complaint::Contradiction { rule: rule.into(), found: found.into() }, label.into())
    }

    fn new(complaint: Complaint, label: String) -> Self {
        Self { complaint, label, also: Vec::new(), hint: None }
    }

    /// Points at a second place.
    pub fn also(mut self, span: Range<usize>, text: impl Into<String>) -> Self {
        self.also.push(Mark { span, text: text.into() });
        self
    }

    /// Adds what may help.
    pub fn hint(self, hint: impl Into<String>) -> Self {
        Self { hint: Some(hint.into()), ..self }
    }

    /// Adds what may help, if there is anything.
    pub fn maybe_hint(self, hint: Option<String>) -> Self {
        Self { hint, ..self }
    }
}

/// The file being read and what is wrong with it so far.
#[derive(Debug)]
pub struct Reader<'a> {
    source: &'a SourceFile,
    problems: RefCell<Vec<(usize, Problem)>>,
    omitted: Cell<usize>,
}

impl<'a> Reader<'a> {
    /// Reads a file as TOML and hands its top table to `build`. A file that is no TOML is not read any further: what is
    /// left of it would only mislead.
    pub fn read<T>(
        source: &'a SourceFile,
        build: impl FnOnce(&Reader<'a>, &DeTable<'a>) -> Read<T>,
    ) -> Result<T, InputErrors> {
        let reader = Self { source, problems: RefCell::default(), omitted: Cell::new(0) };
        let (table, errors) = DeTable::parse_recoverable(source.text());
        reader.report_syntax(&errors);
        let built = if errors.is_empty() { build(&reader, table.get_ref()).ok() } else { None };
        let mut problems = reader.problems.into_inner();
        match built {
            Some(built) if problems.is_empty() => Ok(built),
            _ => {
                problems.sort_by_key(|(offset, _)| *offset);
                let problems = problems.into_iter().map(|(_, problem)| problem).collect();
                Err(InputErrors::new(problems, reader.omitted.get()))
            }
        }
    }

    /// Line of an offset.
    pub fn line(&self, offset: usize) -> usize {
        self.source.line(offset)
    }

    /// The text of a line, without the blanks around it.
    pub fn line_span(&self, line: usize) -> Range<usize> {
        self.source.line_span(line)
    }

    /// Takes note of a problem. `make` is not called once there are too many.
    pub fn report(&self, span: Range<usize>, make: impl FnOnce() -> Report) -> Reported {
        if self.problems.borrow().len() >= MAX_PROBLEMS {
            self.omitted.set(self.omitted.get() + 1);
            return Reported(());
        }
        let Report { complaint, label, also, hint } = make();
        let span = self.source.clamp(span);
        let marks = std::iter::once(Mark { span: span.clone(), text: label })
            .chain(also)
            .map(|mark| Mark { span: self.source.clamp(mark.span), ..mark })
            .collect();
        let problem = Problem::of_file(self.source.name(), complaint)
            .at(self.source.position(span.start))
            .marked(self.source.shown(), marks)
            .hinted(hint);
        self.problems.borrow_mut().push((span.start, problem));
        Reported(())
    }

    /// Says that what is wrong has been reported by another name.
    pub fn already_reported(&self) -> Reported {
        debug_assert!(!self.problems.borrow().is_empty(), "nothing has been reported");
        Reported(())
    }

    /// Takes note of a value that is something else than `expected`.
    pub fn report_value(&self, value: &Value<'_>, expected: &str) -> Reported {
        self.report(value.span(), || Report::unexpected(expected, described(value.get_ref())))
    }

    /// The first problem of each line: the others mostly follow from it.
    fn report_syntax(&self, errors: &[toml::de::Error]) {
        let mut last_line = 0;
        for error in errors {
            let span = error.span().unwrap_or(0..0);
            let line = self.line(span.start);
            if line == last_line {
                continue;
            }
            last_line = line;
            self.report(span.clone(), || {
                let message = spelled_out(&error.message().trim().replace('\n', " "));
                let hint = is_bare_text(self.source.text(), span.start)
                    .then(|| "texts and quantities stand in quotes: \"2.2 kohm\"".to_owned());
                Report::new(Complaint::Syntax { message }, "not TOML".to_owned()).maybe_hint(hint)
            });
        }
    }
}

/// Longest value that is taken for a text without quotes, in bytes.
const BARE_BYTES: usize = 100;

/// Whether an offset lies in the value of `key = 12 unit` or `key = word`, without quotes.
fn is_bare_text(text: &str, offset: usize) -> bool {
    let Some((before, after)) = text.get(..offset).zip(text.get(offset..)) else {
        return false;
    };
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    let end = offset + after.find('\n').unwrap_or(after.len());
    let Some((key, value)) = text[start..end].split_once('=') else {
        return false;
    };
    let value = value.split('#').next().unwrap_or_default().trim();
    let is_of_text = |character: char| character.is_alphanumeric() || " .,:-_+/%°".contains(character);
    offset > start + key.len()
        && value.len() <= BARE_BYTES
        && value.starts_with(|first: char| first.is_alphanumeric() || first == '-')
        && value.chars().all(is_of_text)
        && value.contains(|character: char| character.is_alphabetic() || ":%°".contains(character))
}

#[cfg(test)]
mod tests {
    use super::is_bare_text;

    #[track_caller]
    fn is_bare_after(before: &str, after: &str) -> bool {
        is_bare_text(&format!("a = 1\n{before}{after}\nb = 2\n"), 6 + before.len())
    }

    #[test]
    fn quotes_are_missed_around_texts_and_quantities() {
        for value in
            ["3.3 V", "-5 °C", "1 %", "2.2 kohm # fitted by hand", "upper shelf", "28:112233445566:56", "4,7 kΩ"]
        {
            assert!(is_bare_after("key = ", value), "{value}");
        }
    }

    #[test]
    fn quotes_are_not_missed_where_something_else_is_wrong() {
        for (before, after) in [
            ("", "\u{1b}[2J = 3"),
            ("", "a.a.a.a = one"),
            ("key = ", "3"),
            ("key = ", "[1, 2"),
            ("key = ", "{ a = 1"),
            ("key = ", "\"one\" two"),
            ("key = ", "one\u{1b}"),
            ("key", " "),
            ("", "[line"),
        ] {
            assert!(!is_bare_after(before, after), "{before}{after}");
        }
    }
}
